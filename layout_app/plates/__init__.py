"""Derives the metal: segments, windows, terminals, joints."""
