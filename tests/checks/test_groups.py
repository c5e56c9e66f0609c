"""Group rules: each trips where it must, and stays silent on a sound chain."""

import numpy as np

from layout_app.checks import groups
from layout_app.geometry.contours import Contour
from layout_app.model.housings import Housing


def only(findings):
    """Return the single finding of a rule."""
    (finding,) = list(findings)
    return finding


def grid(n_rows, n_columns, pitch_mm=22.0):
    """Return the centres of a square grid, row by row from the origin."""
    column, row = np.meshgrid(np.arange(n_columns), np.arange(n_rows))
    return np.column_stack([column.ravel(), row.ravel()]) * pitch_mm


def chain(bench, numbers, **changes):
    """Return a layout of a grid whose cells are in the groups drawn, one row a line."""
    rows = np.array(numbers)
    layout = {"n_series": int(rows.max()), "n_parallel": rows.shape[1]} | changes
    return bench.lay(grid(*rows.shape), rows.ravel(), **layout)


SOUND = [[1, 1, 1], [2, 2, 2], [3, 3, 3]]


def test_a_sound_chain_has_no_group_findings(bench):
    layout = chain(bench, SOUND)
    rules = (groups.missing_groups, groups.uneven_groups, groups.split_groups, groups.steps_apart)
    assert [finding for rule in rules for finding in rule(layout)] == []


def test_groups_without_cells_leave_the_chain_open(bench):
    finding = only(groups.missing_groups(chain(bench, SOUND, n_series=5)))
    assert finding.severity == "error"
    assert (finding.measured, finding.limit) == (3.0, 5.0)
    assert "Groups 4 and 1 more" in finding.message


def test_a_group_short_of_a_cell_and_one_with_a_cell_too_many_are_told_apart(bench):
    few, many = list(groups.uneven_groups(chain(bench, [[1, 1, 2], [2, 2, 2], [3, 3, 3]])))
    assert (few.measured, few.limit, few.cells) == (2.0, 3.0, (0, 1))
    assert "1 too few" in few.message
    assert (many.measured, many.cells) == (4.0, (2, 3, 4, 5))
    assert "1 too many" in many.message


def test_a_missing_group_is_not_also_called_uneven(bench):
    assert not list(groups.uneven_groups(chain(bench, SOUND, n_series=4)))


def test_a_cell_apart_from_its_group_splits_it(bench):
    # 1 1 2     group 2 has a cell in the corner of group 1 that touches nothing of group 2: diagonals do not count
    # 1 2 2
    finding = only(groups.split_groups(chain(bench, [[1, 1, 3], [1, 2, 2], [3, 3, 2]])))
    assert finding.severity == "error"
    assert finding.measured == 2.0
    assert finding.cells == (2,)
    assert "cell 3 stands apart from the rest" in finding.message
    assert finding.places_mm == ((44.0, 0.0),)


def test_a_keep_out_between_two_cells_splits_their_group(bench):
    post = Contour.rectangle(1.0, 60.0).moved(32.5, -30.0)
    housing = Housing(outline=Contour.rectangle(400.0, 200.0).moved(-50.0, -50.0), keep_outs=(post,))
    layout = bench.lay(bench.row(4), n_parallel=4)
    assert not list(groups.split_groups(layout))
    finding = only(groups.split_groups(bench.lay(bench.row(4), n_parallel=4, housing=housing)))
    assert finding.measured == 2.0


def test_groups_that_only_meet_at_a_corner_are_no_step(bench):
    # 1 3
    # 3 2     squares touch at their corners only: no metal can cross there
    finding = only(groups.steps_apart(chain(bench, [[1, 3], [3, 2]])))
    assert finding.severity == "error"
    assert finding.segments == (1,)
    assert set(finding.places_mm) == {(0.0, 0.0), (22.0, 22.0)}


def test_one_pair_of_neighbours_is_a_step(bench):
    assert not list(groups.steps_apart(chain(bench, [[1, 1], [2, 3]], n_parallel=1)))


def test_a_step_to_a_group_without_cells_is_left_to_the_missing_group(bench):
    assert not list(groups.steps_apart(chain(bench, SOUND, n_series=4)))


def test_unassigned_cells_join_nothing(bench):
    finding = only(groups.split_groups(chain(bench, [[1, 0, 1]], n_series=1, n_parallel=2)))
    assert finding.cells == (2,)
