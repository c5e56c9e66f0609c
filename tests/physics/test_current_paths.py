"""Current paths of modules: every joint's lines, inside real segments, and the ways of the worst-placed cells."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings

from layout_app.model import saved_file
from layout_app.model.errors import LayoutError
from layout_app.model.resources import sample_layouts
from layout_app.physics.current_paths import module_lines, segment_lines, worst_paths
from layout_app.physics.currents import SheetModel
from layout_app.physics.min_cuts import joint_currents_a
from layout_app.physics.module import CellCondition
from layout_app.plates.deriving import Plates
from tests.plates.modules import banded, modules


class Solved:
    """A module with its sheet solved."""

    def __init__(self, layout, current_a=None, conditions=()):
        self.layout, self.plates = layout, Plates(layout)
        model = SheetModel(self.plates)
        self.found = model.solve(current_a, conditions)
        self.segments, self.fields = self.plates.segments, model.fields(self.found)

    def lines(self, **options):
        return module_lines(self.segments, self.fields, self.found, **options)

    def worst(self):
        return worst_paths(self.layout, self.segments, self.fields, self.found)


@pytest.fixture(scope="module")
def small():
    return Solved(banded(n_columns=6, n_rows=4, n_series=3), 50.0)


@pytest.fixture(scope="module")
def buoy():
    return Solved(saved_file.load(sample_layouts()["harbour_buoy"]))


@pytest.mark.parametrize("which", ["small", "buoy"])
def test_lines_of_every_joint_sum_to_its_current_and_stay_in_the_metal(which, request):
    """Laws: Kirchhoff; the whole current crosses every segment; metal ends at the edge of the finished part."""
    module = request.getfixturevalue(which)
    for segment, lines in zip(module.segments, module.lines(), strict=True):
        sums = np.bincount(lines.of_contact, weights=lines.current_a, minlength=len(segment.window_cells))
        wanted = np.abs(joint_currents_a(segment, module.found))
        traced = segment.is_positive_end if segment.number else ~segment.is_positive_end
        assert sums[: len(wanted)][traced] == pytest.approx(wanted[traced], rel=1e-9)
        assert lines.current_a.sum() == pytest.approx(module.found.solved.current_a, rel=1e-6)
        assert shapely.covers(segment.metal(0.001), lines.shapes()).all()
        assert shapely.covers(segment.metal(), lines.shapes(0.005)).all()
        assert (lines.to_contact >= 0).all()
        assert (lines.drop_v > 0).all()


def test_lines_lead_to_the_terminal_or_to_the_next_group(small):
    for segment, lines in zip(small.segments, small.lines(), strict=True):
        n = len(segment.window_cells)
        from_joint, to_joint = lines.from_contact < n, lines.to_contact < n
        if segment.number == 0:
            assert not from_joint.any()
            assert to_joint.all()
        elif segment.number == small.layout.n_series:
            assert from_joint.all()
            assert not to_joint.any()
        else:
            assert segment.is_positive_end[lines.from_contact].all()
            assert not segment.is_positive_end[lines.to_contact].any()


def test_each_line_stands_for_nearly_the_same_current(small):
    for lines in small.lines(per_joint=8):
        assert lines.current_a.max() < 1.15 * lines.current_a.min()  # currents of the cells differ by a few per cent


def test_charging_turns_the_lines_round(small):
    """Law: linearity. What leaves the positive joints at 50 A enters them at -50 A."""
    back = Solved(small.layout, -50.0)
    for ahead, behind in zip(small.lines(), back.lines(), strict=True):
        assert np.bincount(ahead.of_contact).tolist() == np.bincount(behind.of_contact).tolist()
        assert sorted(ahead.from_contact.tolist()) == sorted(behind.to_contact.tolist())


def test_current_into_a_shorted_cell_is_drawn_from_its_neighbours_once():
    layout = banded(n_columns=6, n_rows=4, n_series=3)
    module = Solved(layout, 10.0, [CellCondition.shorted(9)])
    group = int(layout.cells.groups[9])
    segment, lines = module.segments[group], module.lines()[group]
    bad = int(np.flatnonzero(segment.window_cells == 9)[0])
    assert not (lines.of_contact == bad).any()
    ending = lines.current_a[lines.to_contact == bad].sum()
    assert ending == pytest.approx(-module.found.solved.cell_current_a[9], rel=0.15)  # to a line or so


def test_a_module_at_rest_has_no_lines_and_no_paths(small):
    model = SheetModel(small.plates)
    found = model.solve(0.0)
    fields = model.fields(found)
    assert [len(lines) for lines in module_lines(small.segments, fields, found)] == [0] * len(small.segments)
    assert worst_paths(small.layout, small.segments, fields, found) == ()


def test_worst_paths_are_those_of_the_lowest_and_highest_cell_of_each_group(buoy):
    flow, groups = buoy.found.solved.cell_current_a, buoy.layout.cells.groups
    paths = buoy.worst()
    assert [p.group for p in paths] == list(range(1, buoy.layout.n_series + 1))
    for p in paths:
        own = flow[groups == p.group]
        assert (p.lowest.current_a, p.highest.current_a) == (own.min(), own.max())
        assert p.lowest.share == pytest.approx(own.min() / own.mean(), rel=1e-6)


def test_ways_lose_what_lies_between_their_ends_in_potential(buoy):
    """Law: the potential is a function of place. Resistance is drop over current; both ways lead through the cell."""
    for p in buoy.worst():
        for path in (p.lowest, p.highest):
            for way, number in ((path.before, p.group - 1), (path.after, p.group)):
                segment, volts = buoy.segments[number], buoy.found.solved.contact_v[number]
                own = int(np.flatnonzero(segment.window_cells == path.cell)[0])
                is_terminal = way.far_cell is None
                far = len(volts) - 1 if is_terminal else int(np.flatnonzero(segment.window_cells == way.far_cell)[0])
                assert way.drop_v == pytest.approx(abs(volts[own] - volts[far]), rel=0.02)
                assert way.resistance_ohm * path.current_a == pytest.approx(way.drop_v)
                assert is_terminal == (number in (0, buoy.layout.n_series))
                assert len(way.points_mm) == len(way.potential_v)
            assert path.drop_v == pytest.approx(path.before.drop_v + path.after.drop_v)


def test_an_open_cell_is_no_worst_placed_one(small):
    module = Solved(small.layout, 50.0, [CellCondition.opened(3)])
    assert all(3 not in (p.lowest.cell, p.highest.cell) for p in module.worst())


def test_progress_of_lines_ends_at_one_and_may_end_the_work(small):
    heard = []
    small.lines(progress=heard.append)
    assert heard[-1] == 1.0

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        small.lines(progress=stop)


@settings(deadline=None, max_examples=3)
@given(layout=modules())
def test_lines_of_any_module_stay_in_its_metal_and_reach_an_end(layout):
    """Law: current does not leave the metal but at contacts. Thinned lines, as drawings have them, neither."""
    try:
        module = Solved(layout, 10.0)
    except LayoutError:  # metal in pieces, or none: told elsewhere
        return
    for segment, lines in zip(module.segments, module.lines(), strict=True):
        assert shapely.covers(segment.metal(), lines.shapes(0.005)).all()
        assert (lines.from_contact >= 0).all()
        assert (lines.to_contact >= 0).all()


def test_one_segment_alone_has_the_same_lines_as_in_the_module(small):
    lines = segment_lines(small.segments[1], small.fields[1], small.found)
    assert lines.points_mm.tolist() == small.lines()[1].points_mm.tolist()
