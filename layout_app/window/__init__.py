"""Qt, and only here: canvas, panels, dialogs, background work."""
