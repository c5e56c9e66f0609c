"""Judges: one small function per rule, each returning findings with a place."""
