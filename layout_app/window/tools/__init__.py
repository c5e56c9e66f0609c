"""Tools: what the mouse does on the canvas. A gesture, from press to release, is one edit; Esc leaves no trace."""

from layout_app.window.tools.base import HandTool, Tool
from layout_app.window.tools.brush import EraseTool, PaintTool, PlaceTool
from layout_app.window.tools.choosing import ChooseTool
from layout_app.window.tools.measuring import MeasureTool
from layout_app.window.tools.moving import PasteTool
from layout_app.window.tools.regions import FillTool, SwapTool
from layout_app.window.tools.walls import WallsTool

__all__ = [
    "ChooseTool", "EraseTool", "FillTool", "HandTool", "MeasureTool", "PaintTool", "PasteTool", "PlaceTool", "SwapTool",
    "Tool", "WallsTool",
]  # fmt: skip
