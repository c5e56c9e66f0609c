"""Opens the window on a sample and takes its picture: xvfb-run -a python .ci/picture.py resources/pictures/window.png

Fails when the window does not come up, or when Qt or Python warn of anything on the way.
"""

import os
import sys
import tempfile
import warnings
from pathlib import Path

from PySide6.QtCore import QTimer, qInstallMessageHandler
from PySide6.QtWidgets import QApplication

from layout_app.model.resources import sample_layouts
from layout_app.window import app

LOOK_MS, PAINT_MS, PATIENCE_MS = 100, 1000, 60_000
complaints: list[str] = []


def main(picture: Path) -> int:
    """Open the window on the orchard rover and save what the screen shows of it."""
    warnings.simplefilter("error")
    qInstallMessageHandler(lambda _kind, _context, message: complaints.append(message))
    QApplication(["busweave"])
    QTimer.singleShot(PATIENCE_MS, lambda: QApplication.exit(2))
    QTimer.singleShot(0, lambda: wait_and_take(picture))
    with tempfile.TemporaryDirectory() as memory:  # the user's own settings and recent files stay as they are
        os.environ.update(XDG_CONFIG_HOME=memory, XDG_DATA_HOME=memory)
        code = app.run([sample_layouts()["orchard_rover"]])
    for complaint in complaints:
        print(f"Qt: {complaint}", file=sys.stderr)
    return code or bool(complaints)


def wait_and_take(picture: Path) -> None:
    """Take the picture once everything is worked out and painted."""
    windows = [window for window in QApplication.topLevelWidgets() if getattr(window, "workbench", None)]
    if windows and windows[0].workbench.document.is_settled:
        QTimer.singleShot(PAINT_MS, lambda: take(windows[0], picture))
    else:
        QTimer.singleShot(LOOK_MS, lambda: wait_and_take(picture))


def take(window, picture: Path) -> None:
    """Save what the screen shows of the window."""
    area = window.geometry()
    shot = window.screen().grabWindow(0, area.x(), area.y(), area.width(), area.height())
    is_saved = shot.save(str(picture))
    window.close()
    QApplication.exit(0 if is_saved else 1)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
