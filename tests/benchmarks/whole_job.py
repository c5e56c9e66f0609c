"""The whole main job on the ferry rack, 96 × 86 cells, command by command: wall time and peak memory. Run by hand:

python -m tests.benchmarks.whole_job

Beside it stands the plain start of a Python that loads the same libraries and does nothing.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DRAWING = Path(__file__).parents[1] / "data" / "footprints" / "ferry_rack_r12.dxf"


def run(*arguments: str) -> tuple[float, float]:
    """Run a command; return its wall time, s, and its peak memory, MB."""
    start = time.perf_counter()
    child = subprocess.Popen(arguments, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    if status:
        raise SystemExit(f"{arguments}: exit {os.waitstatus_to_exitcode(status)}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def main() -> None:
    busweave = (sys.executable, "-m", "layout_app")
    with tempfile.TemporaryDirectory() as folder:
        layout = str(Path(folder) / "ferry.busweave")
        asked = ("--cell", "21700-energy", "--series", "96", "--parallel", "86", "--gap", "1.5", "--out", layout)
        commands = {
            "plain start": (sys.executable, "-c", "import numpy, scipy.spatial, shapely, ezdxf"),
            "lay": (*busweave, "lay", str(DRAWING), *asked),
            "figures": (*busweave, "figures", layout),
            "check": (*busweave, "check", layout),
            "export": (*busweave, "export", layout, "--to", str(Path(folder) / "out")),
        }
        for name, command in commands.items():
            seconds, megabytes = run(*command)
            print(f"{name:14}{seconds:7.2f} s{megabytes:8.0f} MB")


if __name__ == "__main__":
    main()
