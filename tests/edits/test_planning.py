"""Edits that lay out anew keep the brief, the metal and the terminals, and refuse what does not fit."""

import math
from dataclasses import replace

import numpy as np
import pytest

from layout_app.edits import ChangeCellType, ChangeFill, ChangeGrouping, ChangePlates, ChangeTerminal, SetHousing
from layout_app.edits.planning import first_group_side_rad
from layout_app.geometry.contours import Contour
from layout_app.model.catalogues import cell_types
from layout_app.model.cells import Cells
from layout_app.model.errors import LayoutError
from layout_app.model.housings import Housing
from layout_app.model.lattices import Lattice
from layout_app.planning.filling import arrangements
from layout_app.planning.laying import lay_into

from .modules import module


@pytest.fixture
def before():
    """4 x 5 cells with settings that differ from every default, so that losing one shows."""
    layout = ChangePlates({"gap_mm": 2.25, "borders": "straight"}).apply(module())
    return ChangeTerminal(is_positive=True, changes={"bolt": "M8"}).apply(layout)


def sizes(layout):
    return np.bincount(layout.cells.groups, minlength=layout.n_series + 1)[1:].tolist()


@pytest.mark.parametrize(
    "edit",
    [
        ChangeFill(gap_mm=0.5),
        ChangeFill(lattice="hexagonal"),
        ChangeFill(wall_clearance_mm=0.5),
        ChangeGrouping(n_series=5, n_parallel=4),
        ChangeGrouping(n_series=2, n_parallel=5),
        ChangeGrouping(chain="folded"),
        ChangeGrouping(start_rad=math.pi / 2),
    ],
)
def test_every_group_gets_its_cells_and_all_else_stays(before, edit):
    after = edit.apply(before)
    assert sizes(after) == [after.n_parallel] * after.n_series
    for part in ("plates", "terminals", "design_current_a", "peak_current_a", "limits", "name", "notes"):
        assert getattr(after, part) == getattr(before, part), part


@pytest.mark.parametrize(
    "edit",
    [
        ChangeFill(gap_mm=1.0, lattice="square", wall_clearance_mm=1.0, keep_out_clearance_mm=1.0),
        ChangeGrouping(n_series=4, n_parallel=5, chain="straight", first_group_up=True),
        ChangeCellType(module().cell_type),
        SetHousing(module().housing),
    ],
)
def test_what_is_already_so_changes_nothing(before, edit):
    assert edit.apply(before) is before


def test_the_gap_is_between_cans(before):
    after = ChangeFill(gap_mm=0.5).apply(before)
    assert after.lattice.pitch_mm == pytest.approx(before.cell_type.diameter_mm + 0.5)


def test_turning_the_first_group_over_moves_no_cell(before):
    after = ChangeGrouping(first_group_up=False).apply(before)
    assert after.cells is before.cells
    np.testing.assert_array_equal(after.positive_up, ~before.positive_up)


def test_another_chain_keeps_cells_placed_by_hand(before):
    after = ChangeGrouping(chain="folded").apply(before)
    np.testing.assert_array_equal(after.cells.centres_mm, before.cells.centres_mm)


def test_a_cell_of_the_same_size_keeps_its_place(before):
    kind = cell_types()["21700-power"]
    first = ChangeCellType(cell_types()["21700-energy"]).apply(before)
    after = ChangeCellType(kind).apply(first)
    assert after.cells is first.cells
    assert after.cell_type is kind


def test_a_thinner_cell_fills_the_housing_again_with_the_same_gap(before):
    after = ChangeCellType(cell_types()["18650-energy"]).apply(before)
    assert after.lattice.pitch_mm == pytest.approx(after.cell_type.diameter_mm + 1.0)
    assert sizes(after) == [5] * 4


@pytest.mark.parametrize(
    "edit",
    [
        ChangeGrouping(n_parallel=50),
        ChangeFill(gap_mm=30.0),
        ChangeCellType(cell_types()["46800-energy"]),
        SetHousing(Housing(outline=Contour.rectangle(60.0, 60.0))),
    ],
)
def test_what_does_not_fit_is_refused_with_how_many_would(before, edit):
    with pytest.raises(LayoutError, match=r"\d+ (cells )?fit"):
        edit.apply(before)


@pytest.mark.parametrize("edit", [ChangeFill(gap_mm=-1.0), ChangeGrouping(n_series=0), ChangeGrouping(n_parallel=-3)])
def test_values_that_cannot_be_are_refused(before, edit):
    with pytest.raises(LayoutError):
        edit.apply(before)


@pytest.fixture(scope="module")
def rows_upright():
    """72 cells in compressed rows that run up the shorter side, group 1 at the right: nothing a fresh layout does."""
    housing = Housing(outline=Contour.rectangle(420.0, 150.0, 5.0))
    found = arrangements(housing, module().cell_type, gap_mm=1.0, kinds=("compressed",), angles_rad=(math.pi / 2,))
    upright = [arrangement for arrangement in found if arrangement.lattice.kind == "compressed"]
    return lay_into(replace(module(6, 12), housing=housing, cells=Cells(np.empty((0, 2)))), upright, start_rad=0.0)


@pytest.mark.parametrize(
    "edit",
    [
        ChangeFill(gap_mm=0.8),
        ChangeFill(gap_mm=1.2),
        ChangeFill(wall_clearance_mm=0.5),
        ChangeFill(lattice="hexagonal"),
        ChangeFill(lattice="square"),
        ChangeGrouping(chain="folded"),
        ChangeGrouping(n_series=8, n_parallel=9),
        ChangeGrouping(n_parallel=11),
        ChangeGrouping(first_group_up=False),
        ChangeCellType(replace(module().cell_type, diameter_mm=20.5)),
    ],
)
def test_rows_chain_and_side_stay_unless_they_are_what_is_changed(rows_upright, edit):
    after = edit.apply(rows_upright)
    assert after.lattice.kind == (getattr(edit, "lattice", None) or "compressed")
    assert after.lattice.angle_rad == rows_upright.lattice.angle_rad
    assert after.chain == (getattr(edit, "chain", None) or "straight")
    assert first_group_side_rad(after) == 0.0
    assert sizes(after) == [after.n_parallel] * after.n_series


def test_a_chain_asked_to_start_elsewhere_does(rows_upright):
    assert first_group_side_rad(ChangeGrouping(start_rad=math.pi).apply(rows_upright)) == math.pi


def test_rows_turn_where_the_cells_no_longer_fit_along_the_old_direction(rows_upright):
    # both directions of the same lattice in the same housing: one of them holds more cells
    counts = {
        angle: max(len(a) for a in arrangements(rows_upright.housing, rows_upright.cell_type, gap_mm=1.0,
                                                kinds=("hexagonal",), angles_rad=(angle,)))
        for angle in (0.0, math.pi / 2)
    }  # fmt: skip
    worse = min(counts, key=counts.get)
    assert counts[worse] < max(counts.values())
    before = replace(rows_upright, lattice=Lattice.hexagonal(22.0, worse))
    after = ChangeGrouping(n_series=1, n_parallel=max(counts.values())).apply(before)
    assert len(after.cells) == max(counts.values())
