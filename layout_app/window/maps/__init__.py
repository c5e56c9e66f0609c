"""Maps: what the currents do, as colours on the canvas."""
