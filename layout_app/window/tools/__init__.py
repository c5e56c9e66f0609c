"""Tools: what the mouse does on the canvas. A gesture, from press to release, is one edit; Esc leaves no trace."""

from layout_app.window.tools.base import HandTool, Tool
from layout_app.window.tools.brush import EraseTool, PaintTool, PlaceTool
from layout_app.window.tools.choosing import ChooseTool

__all__ = ["ChooseTool", "EraseTool", "HandTool", "PaintTool", "PlaceTool", "Tool"]
