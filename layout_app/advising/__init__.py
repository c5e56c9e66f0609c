"""Advising: what if, and what would serve better: variants of a layout beside the layout as it is.

`trials.Trial` is where both start; `questions.ask` answers one question, `adviser.advise` tries many and ranks them.
"""
