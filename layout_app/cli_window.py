"""From the command line to the window: is there a display, does Qt start, open the files."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from layout_app.model.errors import LayoutError

QT_PROBE = "from PySide6.QtWidgets import QApplication; QApplication([])"
QT_PATIENCE_S = 30  # a cold start from a slow disk takes a few seconds


def open_window(files: Sequence[Path]) -> int:
    """Open the window on the files; return its exit code."""
    if not _has_display():
        raise LayoutError(
            "There is no display here to open a window on. 'busweave --help' lists what works without one."
        )
    try:
        from layout_app.window.app import run
    except ImportError as error:
        if (error.name or "").startswith("layout_app"):
            raise
        raise LayoutError(
            f"The window needs Qt and its system libraries: {error}. Install them as the README says; "
            "'busweave --help' lists what works without a window."
        ) from error
    lack = _platform_lack()
    if lack:
        raise LayoutError(
            f"The window needs a system library that is missing: {lack}. Install it as the README says; "
            "'busweave --help' lists what works without a window."
        )
    return int(run(list(files)))


def why_no_window() -> str:
    """Return why no window can be opened here, in a few words; empty when one can.

    Qt ends the whole program when a library of its platform is missing, so it is tried in another process first.
    """
    import subprocess

    if not _has_display():
        return "there is no display"
    try:
        tried = subprocess.run(
            [sys.executable, "-c", QT_PROBE], capture_output=True, text=True, timeout=QT_PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        return f"Qt does not start: {type(error).__name__}"
    if tried.returncode == 0:
        return ""
    lines = [line for line in tried.stderr.splitlines() if line.strip()]
    told = next((line for line in lines if "needed" in line), lines[-1] if lines else "no reason given")
    return f"Qt does not start: {told.strip()}"


def _platform_lack() -> str:
    """Return what keeps Qt's part for an X display from loading; empty when nothing does.

    Qt ends the whole program then, and no exception can be caught; loading the same file ourselves only fails.
    """
    import ctypes

    asked = os.environ.get("QT_QPA_PLATFORM", "")
    is_x = asked.startswith("xcb") or (not asked and "DISPLAY" in os.environ and "WAYLAND_DISPLAY" not in os.environ)
    plugin = _x_plugin()
    if not is_x or not plugin.exists():
        return ""
    try:
        ctypes.CDLL(str(plugin))
    except OSError as error:
        return str(error)
    return ""


def _x_plugin() -> Path:
    from importlib.util import find_spec

    found = find_spec("PySide6")
    return Path(found.origin if found and found.origin else "").parent / "Qt" / "plugins" / "platforms" / "libqxcb.so"


def _has_display() -> bool:
    needs_one = sys.platform.startswith(("linux", "freebsd"))
    named = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    return not needs_one or any(os.environ.get(name) for name in named)
