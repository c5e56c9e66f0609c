"""DXF export beside writing the same entities straight through ezdxf. Run: python -m tests.benchmarks.dxf_export

The plain way is handed every entity ready made (read back from our own files, untimed): it only adds them to new
drawings and saves those. Ours starts from layout and segments, finds a place for every number and builds the tables.
Both are timed three times in turn; the best counts.
"""

from __future__ import annotations

import io
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf

from layout_app.exchange.drawings_out import dxf_files
from layout_app.exchange.dxf_layers import new_drawing
from layout_app.model.layouts import Layout
from tests.exchange.builders import rover_layout, rover_segments

ROUNDS = 3
Entity = tuple[str, dict[str, Any], Any]


def ours(layout: Layout, folder: Path) -> int:
    """Write all drawings; return how many."""
    n_files = 0
    for path, data in dxf_files(layout, rover_segments(layout)):
        (folder / path.replace("/", "_")).write_bytes(data)
        n_files += 1
    return n_files


def entities(data: bytes) -> list[Entity]:
    """Return what a drawing holds, ready to be added to another."""
    listed: list[Entity] = []
    for entity in ezdxf.read(io.StringIO(data.decode())).modelspace():
        attributes = {k: v for k, v in entity.dxfattribs().items() if k not in ("handle", "owner")}
        kind = entity.dxftype()
        points = entity.get_points("xyb") if kind == "LWPOLYLINE" else entity.text if kind == "MTEXT" else None
        listed.append((kind, attributes, points))
    return listed


def plain(drawings: list[list[Entity]], diameter_mm: float, folder: Path) -> None:
    """Add the entities to new drawings with the same layers and save them."""
    for number, listed in enumerate(drawings):
        drawing = new_drawing("R2010", diameter_mm)
        space = drawing.modelspace()
        for kind, attributes, content in listed:
            if kind == "CIRCLE":
                space.add_circle(attributes["center"], attributes["radius"], {"layer": attributes["layer"]})
            elif kind == "TEXT":
                space.add_text(attributes["text"], dxfattribs=attributes)
            elif kind == "INSERT":
                space.add_blockref(attributes["name"], attributes["insert"], attributes)
            elif kind == "MTEXT":
                space.add_mtext(content, attributes)
            else:
                space.add_lwpolyline(content, format="xyb", close=True, dxfattribs={"layer": attributes["layer"]})
        drawing.saveas(folder / f"{number}.dxf")


def seconds(job: Callable[[], object]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def main() -> None:
    for n_series, n_parallel in ((6, 86), (96, 86)):
        layout = rover_layout(n_series, n_parallel)
        drawings = [entities(data) for _, data in dxf_files(layout, rover_segments(layout))]
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            times = [
                (seconds(lambda: ours(layout, folder)), seconds(lambda: plain(drawings, 21.0, folder)))  # noqa: B023
                for _ in range(ROUNDS)
            ]
        our_s, plain_s = (min(column) for column in zip(*times, strict=True))
        print(
            f"{n_series * n_parallel:5d} cells, {len(drawings)} drawings, {sum(map(len, drawings))} entities: "
            f"ours {our_s:.2f} s, plain {plain_s:.2f} s, ratio {our_s / plain_s:.2f} (at most 2 wanted)"
        )


if __name__ == "__main__":
    main()
