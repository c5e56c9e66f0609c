"""What a layout is: frozen values that check themselves once.

The words, used with these meanings everywhere:

Cell: one can on the plane. Cell type: its data sheet. Pitch: centre to centre. Gap: can to can. Lattice: hexagonal,
square or compressed (rows pushed together while all neighbours keep the pitch). Site: a lattice position, with or
without a cell. Footprint: the housing's inner outline less the wall clearance. Keep-out: a loop no cell may enter.
Parallel group: cells at one voltage step, 1…S from the negative terminal. Series order: the order of the groups.
Polarity: which end is up. Face: top or bottom, both stored as seen from above. Segment: one piece of busbar, 0…S;
segment k joins the positive ends of group k to the negative ends of group k+1. Window: opening in a segment over a
terminal. Web: metal between openings. Neck: narrowest section the current must cross. Land: where a bond's foot sits.
Joint: the connection of a cell's terminal to a segment. Terminal: where the module is connected. Insulation gap:
between segments. Setback: metal to housing. Figure: a computed quantity. Finding: something a check has to say.

Lengths in mm, angles in rad, the rest SI; a name with a dimension ends in its unit.
"""
