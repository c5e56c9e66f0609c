"""What we write as text is what ezdxf writes for the same entities, tag by tag."""

from __future__ import annotations

import io
import re

import ezdxf
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from layout_app.exchange.dxf_bulk import Bulk
from layout_app.exchange.dxf_layers import PLUS, new_drawing

LENGTHS = st.floats(-1e6, 1e6)
SIZES = st.floats(1e-3, 1e4)
MARKS = st.lists(
    st.one_of(
        st.tuples(st.just("circle"), LENGTHS, LENGTHS, SIZES),
        st.tuples(st.just("number"), LENGTHS, LENGTHS, SIZES, st.integers(0, 99_999)),
        st.tuples(st.just("block"), LENGTHS, LENGTHS, SIZES),
    ),
    max_size=8,
)


def entities_of(text: str) -> str:
    """Return the ENTITIES section, handles of single entities left out."""
    section = text[text.index("\nENTITIES\n") : text.index("\nENDSEC\n", text.index("\nENTITIES\n"))]
    return re.sub(r"(  0\n\w+\n  5\n)[0-9A-F]+\n", r"\1", section)


def written(drawing) -> str:
    stream = io.StringIO()
    drawing.write(stream)
    return stream.getvalue()


@pytest.mark.parametrize("version", ["R2010", "R12"])
@settings(max_examples=25, deadline=None)
@given(marks=MARKS)
@example(marks=[("block", 0.0, 0.0, 1.0)])  # the default scale, which ezdxf leaves out
def test_bulk_text_is_what_ezdxf_writes_for_the_same_entities(version, marks):
    ours, theirs = new_drawing(version, 21.0), new_drawing(version, 21.0)
    bulk, space = Bulk(ours, version), theirs.modelspace()
    for kind, x, y, size, *number in marks:
        if kind == "circle":
            bulk.circle(x, y, size, "CELL")
            space.add_circle((x, y), size, {"layer": "CELL"})
        elif kind == "number":
            bulk.number(number[0], x, y, size, "HOLE_NUMBER")
            text = space.add_text(str(number[0]), height=size, dxfattribs={"layer": "HOLE_NUMBER"})
            text.set_placement((x, y), align=ezdxf.enums.TextEntityAlignment.MIDDLE_CENTER)
            text.dxf.insert = (x, y)
        else:
            bulk.block(PLUS, x, y, size, "POLARITY")
            scales = {"xscale": size, "yscale": size, "zscale": size}
            space.add_blockref(PLUS, (x, y), {"layer": "POLARITY", **scales})
    bulk.reserve_handles()
    text = bulk.inserted(written(ours))
    assert entities_of(text) == entities_of(written(theirs))


def test_every_handle_is_given_once_and_the_seed_lies_beyond_them():
    drawing = new_drawing("R2010", 21.0)
    bulk = Bulk(drawing, "R2010")
    for k in range(300):
        bulk.circle(k, 0.0, 1.0, "CELL")
    bulk.reserve_handles()
    read = ezdxf.read(io.StringIO(bulk.inserted(written(drawing))))
    handles = [int(circle.dxf.handle, 16) for circle in read.modelspace()]
    assert len(set(handles)) == 300
    others = {int(handle, 16) for handle in read.entitydb if read.entitydb[handle].dxftype() != "CIRCLE"}
    assert not others & set(handles)
    assert int(read.header["$HANDSEED"], 16) > max(*handles, *others)
