"""Busweave: from a housing drawing to the cells, busbar segments and drawings of a battery module."""

__version__ = "0.1.0"
