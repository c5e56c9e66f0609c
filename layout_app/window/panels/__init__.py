"""Panels beside the canvas. Each shows a layout or what follows from it, and asks for edits; none keeps facts."""
