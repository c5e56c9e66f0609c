"""Advising: what if, and what would serve better: variants of a layout beside the layout as it is."""
