"""Variants in the window: what if, and the adviser's proposals, beside the layout as it is."""
