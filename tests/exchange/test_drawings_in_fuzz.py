"""Spoilt drawings: every outcome is a drawing or a clear error."""

import random

import ezdxf
import pytest

from layout_app.exchange.drawings_in import read_drawing
from layout_app.model.errors import LayoutError
from tests.exchange.drawn import FOOTPRINTS

WORDS = [b"nan", b"inf", b"1e308", b"-1", b"0", b"9" * 20, b"", b"LINE", b"INSERT", b"SPLINE", b"1e-320", b"\xff\xfe"]


@pytest.fixture(scope="module")
def samples(tmp_path_factory):
    """Every footprint as text and as binary, and one drawing with curves and blocks."""
    folder = tmp_path_factory.mktemp("samples")
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_ellipse((0, 0), (90, 0), 0.7)
    space.add_open_spline([(0, 0), (10, 20), (20, 0), (0, 0)])
    document.blocks.new("B").add_circle((0, 0), 3)
    space.add_blockref("B", (10, 30), {"column_count": 3, "column_spacing": 9, "xscale": 2})
    document.saveas(folder / "curves.dxf")
    paths = [*sorted(FOOTPRINTS.glob("*.dxf")), folder / "curves.dxf"]
    contents = [path.read_bytes() for path in paths]
    for path in paths:
        ezdxf.readfile(path).saveas(folder / "binary.dxf", fmt="bin")
        contents.append((folder / "binary.dxf").read_bytes())
    return contents


def spoilt(content, rng):
    """One copy with bytes changed, cut out or repeated, or with lines replaced."""
    data = bytearray(content)
    way = rng.choice(["byte", "cut", "repeat", "line"])
    for _ in range(rng.choice([1, 1, 2, 10])):
        k = rng.randrange(len(data))
        if way == "byte":
            data[k] = rng.randrange(256)
        elif way == "cut":
            del data[k : k + rng.randrange(1, 40)]
        elif way == "repeat":
            data[k:k] = data[k : k + rng.randrange(1, 60)]
        else:
            lines = bytes(data).split(b"\n")
            lines[rng.randrange(len(lines))] = rng.choice(WORDS)
            data = bytearray(b"\n".join(lines))
    return bytes(data)


@pytest.mark.parametrize("seed", range(6))
def test_spoilt_drawing_is_read_or_refused(samples, tmp_path, capfd, seed):
    rng = random.Random(seed)
    path = tmp_path / "housing.dxf"
    for _ in range(40):
        path.write_bytes(spoilt(rng.choice(samples), rng))
        try:
            said = read_drawing(path).summary()
        except LayoutError as error:
            said = (str(error),)
        assert all(line.encode() and line.isprintable() for line in said)
    assert capfd.readouterr() == ("", "")
