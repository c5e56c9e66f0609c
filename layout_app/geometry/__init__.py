"""Arrays and shapes: lattices, territories, arc-aware contours. Knows no batteries.

Everything here is a pure function over arrays or a frozen value: lengths in mm, angles in rad, x right, y up.
"""
