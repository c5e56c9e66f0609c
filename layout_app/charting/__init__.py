"""Draws: charts of currents, losses, drops and opening times, to be shown in the window and in the report.

A chart is plain numbers until it is drawn; only drawing loads the plotting library, inside the functions that need it.
"""
