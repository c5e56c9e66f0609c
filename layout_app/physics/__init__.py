"""Computes: ratings, figures, and later the current network, conduction, fuses and heat."""
