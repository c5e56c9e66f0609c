"""Time to read housing drawings, beside loading the same file with the DXF library and doing nothing with it.

Run by hand: python tests/benchmarks/drawings_in.py
"""

import tempfile
import time
from pathlib import Path

import ezdxf

from layout_app.exchange.drawings_in import read_drawing

FOOTPRINTS = Path(__file__).parents[1] / "data" / "footprints"


def best_of(action, n=5):
    """Shortest of n runs, ms."""
    times = []
    for _ in range(n):
        begin = time.perf_counter()
        action()
        times.append(time.perf_counter() - begin)
    return 1e3 * min(times)


def rack_with_every_cell(folder):
    """A rack drawn with 8 256 circles, and the same wall in 4 000 loose lines."""
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (2360, 0), (2360, 2160), (0, 2160)], close=True)
    for column in range(96):
        for row in range(86):
            space.add_circle((30 + 24 * column, 30 + 24 * row), 10.5)
    document.saveas(folder / "8256 circles.dxf")
    document = ezdxf.new(units=4)
    corners = [(k / 10, 0) for k in range(1000)] + [(100, k / 10) for k in range(1000)]
    corners += [(100 - k / 10, 100) for k in range(1000)] + [(0, 100 - k / 10) for k in range(1000)]
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        document.modelspace().add_line(start, end)
    document.saveas(folder / "4000 loose lines.dxf")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        rack_with_every_cell(Path(folder))
        paths = [p for p in sorted(FOOTPRINTS.glob("*.dxf")) if "broken" not in p.name]
        for path in [*paths, *sorted(Path(folder).glob("*.dxf"))]:
            plain, ours = best_of(lambda p=path: ezdxf.readfile(p)), best_of(lambda p=path: read_drawing(p))
            print(f"{path.name:35} loading alone {plain:8.1f} ms, read as a housing {ours:8.1f} ms")
