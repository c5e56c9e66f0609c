"""Decides: fills a footprint, forms groups, orders them in series, sets polarity."""
