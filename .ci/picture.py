"""Opens the window on the sample and takes its picture: xvfb-run -a python .ci/picture.py resources/pictures/window.png

Fails when the window does not come up, or when Qt or Python warn of anything on the way.
"""

import sys
import tempfile
import warnings
from pathlib import Path

from PySide6.QtCore import QTimer, qInstallMessageHandler
from PySide6.QtWidgets import QApplication

from layout_app.cli import main as busweave
from layout_app.window import app

LOOK_MS, PATIENCE_MS = 100, 60_000
complaints: list[str] = []


def main(picture: Path) -> int:
    """Do the demo without a window, then open the window on the layout and save what the screen shows."""
    warnings.simplefilter("error")
    qInstallMessageHandler(lambda _kind, _context, message: complaints.append(message))
    with tempfile.TemporaryDirectory() as folder:
        if busweave(["demo", "--no-window", "--to", folder]):
            return 1
        QApplication([])
        QTimer.singleShot(PATIENCE_MS, lambda: QApplication.exit(2))
        QTimer.singleShot(0, lambda: wait_and_take(picture))
        code = app.run([Path(folder) / "orchard_rover.busweave"])
    for complaint in complaints:
        print(f"Qt: {complaint}", file=sys.stderr)
    return code or bool(complaints)


def wait_and_take(picture: Path) -> None:
    """Take the picture as soon as everything is worked out and painted."""
    windows = [window for window in QApplication.topLevelWidgets() if getattr(window, "workbench", None)]
    if not windows or not windows[0].workbench.document.is_settled:
        QTimer.singleShot(LOOK_MS, lambda: wait_and_take(picture))
        return
    QTimer.singleShot(1000, lambda: take(windows[0], picture))


def take(window, picture: Path) -> None:
    """Save what the screen shows of the window."""
    area = window.geometry()
    shot = window.screen().grabWindow(0, area.x(), area.y(), area.width(), area.height())
    is_saved = shot.save(str(picture))
    window.close()
    QApplication.exit(0 if is_saved else 1)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
