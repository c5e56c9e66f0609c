"""Time of saving and opening 8 256 cells beside the plain way: the json module on plain dicts. Run by hand."""

import json
import tempfile
import time
from pathlib import Path

import numpy as np

from layout_app.geometry.contours import Contour
from layout_app.model import catalogues, saved_file
from layout_app.model.cells import Cells
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.plates import PlateSettings


def rack() -> Layout:
    """Return 96 × 86 cells on a hexagonal lattice."""
    lattice = Lattice.hexagonal(22.0)
    rows, columns = np.divmod(np.arange(96 * 86), 96)
    return Layout(
        name="rack",
        housing=Housing(outline=Contour.rectangle(2200, 1800, 10)),
        cell_type=catalogues.cell_type("21700-energy"),
        lattice=lattice,
        cells=Cells(lattice.points_mm(rows.astype(float), columns.astype(float)), columns + 1),
        n_series=96,
        n_parallel=86,
        plates=PlateSettings(material=catalogues.material("copper")),
    )


def best_ms(work, repeats: int = 9) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times) * 1e3


def main() -> None:
    layout = rack()
    with tempfile.TemporaryDirectory() as folder:
        ours, plain = Path(folder) / "rack.busweave", Path(folder) / "plain.json"
        saved_file.save(layout, ours)
        data = json.loads(ours.read_text(encoding="utf-8"))
        plain.write_text(json.dumps(data, indent=1), encoding="utf-8")
        pairs = {
            "save": (lambda: saved_file.save(layout, ours), lambda: plain.write_text(json.dumps(data, indent=1))),
            "open": (lambda: saved_file.load(ours), lambda: json.loads(plain.read_text())),
        }
        for name, (our_way, plain_way) in pairs.items():
            print(f"{name}: {best_ms(our_way):6.1f} ms; plain json, nothing checked: {best_ms(plain_way):6.1f} ms")


if __name__ == "__main__":
    main()
