"""Why each rule is there, in a sentence or two: what goes wrong in the module where it is broken."""

REASONS = {
    "same place": "Two cans cannot stand in one another. Such doubles come from importing or pasting twice.",
    "overlap": "Two cans cannot stand in one another; the cells do not fit as drawn.",
    "wall": "The clearance leaves room for the housing's tolerance, the holder, and a can that swells with age.",
    "keep-out": "The clearance leaves room for the boss, rib or screw that stands there, and for its tolerance.",
    "cell gap": "Cans vary in diameter and must go in without force. A gap also slows heat from a failing cell down.",
    "unassigned": "A cell in no group is carried along, heavy and unconnected, and the metal leaves it out.",
    "missing group": "A group without cells breaks the chain: no current can flow from one terminal to the other.",
    "uneven group": "Groups in series carry the same current. The one with fewer cells is empty first and ages first.",
    "split group": "One segment must reach every cell of a group. Parts that are no neighbours cannot share one.",
    "step apart": "The segment between two groups carries the whole current across their common border.",
    "segment missing": "Without metal the chain is open at this place.",
    "segment in pieces": "The pieces are joined through the cells only, which then carry each other's current.",
    "web": "Thin metal between openings heats up, bends when it is handled, and is hard to cut cleanly.",
    "corner": "A cutter cannot get in, and a sharp inside corner is where sheet tears and current crowds.",
    "setback": "The housing may be metal, or let a segment chafe through; tolerances of both must fit in between.",
    "window": "A tool or a bond that touches the can beside the button shorts the cell.",
    "terminal": "The bolt's pressure needs metal all round the hole, and the bolt must not meet anything live.",
    "insulation gap": "Neighbouring segments stand at different voltages. Dust, burrs and moisture bridge small gaps.",
    "joint": "A cell joined at one end only gives nothing, and its neighbours carry its share.",
    "contacts": "Metal is drawn for cells that are joined at opposite ends.",
    "neck": "The whole current crosses the narrowest section. Heat there grows with the square of the density.",
    "imbalance": "A cell that always carries more ages first and takes its group with it.",
    "metal loss": "What joints and metal turn into heat is lost twice: from the range, and to the cooling.",
    "sense error": "A monitor that reads a cell too high or too low balances the wrong one, or stops charging early.",
    "no currents": "Without a path from terminal to terminal nothing about currents can be told.",
    "no joint faults": "Without knowing when a joint opens nothing about faults can be told.",
    "bond rating": "A bond near its opening current creeps and tires with every load, and opens one day.",
    "nuisance opening": "A bond that opens in normal use takes a healthy cell away, and its load falls on the others.",
    "shorted cell": "A cell shorted inside is fed by its neighbours until its bond opens, or theirs do.",
    "shorted terminals": "Bonds are no interrupting device: the last to open draws an arc the module's voltage holds.",
    "lost bonds": "Bonds fail in production and in use; those left in the group take over the current.",
    "touch voltage": "Above these voltages a touch can hurt or kill; guards, signs and trained people are called for.",
    "continuous current": "Above its rating a cell heats, ages fast, and may vent.",
    "peak current": "Above its rating a cell's voltage sags and its inside heats faster than the can shows.",
}  # fmt: skip


def reason(rule: str) -> str:
    """Return why a rule is there; nothing for one that has no words yet."""
    return REASONS.get(rule, "")
