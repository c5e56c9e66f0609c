import math
from dataclasses import replace

import numpy as np
import pytest

from layout_app.geometry.contours import Contour
from layout_app.geometry.neighbours import neighbours
from layout_app.model.catalogues import cell_type, material
from layout_app.model.errors import ValueOutOfRangeError
from layout_app.model.housings import Housing
from layout_app.model.plates import PlateSettings
from layout_app.planning.footprints import Footprint, NoRoomError
from layout_app.planning.grouping import REACH_PITCHES
from layout_app.planning.laying import TooFewSitesError, lay, regroup
from layout_app.planning.links import Links

CELL = cell_type("21700-energy")
# 130 cells of 21 mm at a pitch of 22 mm fit hexagonally (source: trade.md row 10, centres in a 300 × 200 mm window
# less 21 mm; derived there), so the wall has the cell's radius and no clearance
WINDOW = Housing(outline=Contour.rectangle(300, 200), wall_clearance_mm=0.0)
BUOY = Housing(outline=Contour.circle(0, 0, 132.5), keep_outs=(Contour.circle(0, 0, 19),))
TENDER = Housing(outline=Contour([(0, 0), (432, 0), (432, 178), (229, 178), (229, 356), (0, 356)]))


def is_sound(layout):
    points, groups = layout.cells.centres_mm, layout.cells.groups
    found = neighbours(points, REACH_PITCHES * layout.lattice.pitch_mm)
    links = Links(points, found.pairs, found.borders_mm, layout.lattice.pitch_mm)
    pieces = links.pieces(groups)
    in_one_piece = len(np.unique(pieces)) == layout.n_series
    steps = {tuple(sorted(pair)) for pair in groups[found.pairs].tolist()}
    return in_one_piece and all((k, k + 1) in steps for k in range(1, layout.n_series))


@pytest.mark.parametrize("housing", [WINDOW, BUOY, TENDER], ids=["window", "buoy", "tender"])
@pytest.mark.parametrize("chain", ["straight", "folded"])
@pytest.mark.parametrize(("n_series", "n_parallel"), [(6, 15), (1, 60), (20, 4), (2, 45), (80, 1)])
def test_exactly_as_many_cells_as_asked_for_are_laid_into_a_sound_chain(housing, chain, n_series, n_parallel):
    layout = lay(housing, CELL, n_series=n_series, n_parallel=n_parallel, chain=chain)
    assert np.bincount(layout.cells.groups).tolist() == [0] + [n_parallel] * n_series
    assert is_sound(layout)
    assert (layout.n_series, layout.n_parallel, layout.chain) == (n_series, n_parallel, chain)
    margins_mm = Footprint.from_housing(housing, CELL.diameter_mm).margins_mm(layout.cells.centres_mm)
    assert margins_mm.min() >= -1e-6


def test_cells_are_numbered_group_by_group_along_the_rows():
    layout = lay(WINDOW, CELL, n_series=5, n_parallel=20, lattice="hexagonal")
    assert (np.diff(layout.cells.groups) >= 0).all()
    rows = layout.lattice.angle_rad
    for group in range(1, 6):
        x, y = layout.cells.centres_mm[layout.cells.of_group(group)].T
        row = -x * math.sin(rows) + y * math.cos(rows)
        assert (np.diff(row) >= -1e-6).all()


def test_every_cell_stands_on_a_site_of_the_lattice():
    layout = lay(BUOY, CELL, n_series=6, n_parallel=15)
    lattice = layout.lattice
    row, column = np.mgrid[-40:41, -40:41].astype(float)
    sites = lattice.points_mm(row.ravel(), column.ravel())
    apart = np.abs(layout.cells.centres_mm[:, None] - sites[None]).sum(axis=2).min(axis=1)
    assert apart.max() < 1e-6


@pytest.mark.parametrize("kind", ["hexagonal", "square", "compressed"])
def test_the_lattice_asked_for_is_used(kind):
    layout = lay(WINDOW, CELL, n_series=5, n_parallel=18, lattice=kind)
    assert layout.lattice.kind == kind or (kind == "compressed" and layout.lattice.kind == "hexagonal")


def test_the_same_request_gives_the_same_layout():
    assert lay(BUOY, CELL, n_series=6, n_parallel=15) == lay(BUOY, CELL, n_series=6, n_parallel=15)


def test_settings_given_are_in_the_layout():
    plates = PlateSettings(material=material("aluminium-1050"), setback_mm=3.0)
    layout = lay(
        WINDOW, CELL, n_series=2, n_parallel=3, plates=plates, name="harbour buoy", design_current_a=9.0,
        peak_current_a=12.0,
    )  # fmt: skip
    assert (layout.plates, layout.name, layout.design_current_a, layout.peak_current_a) == (
        plates, "harbour buoy", 9.0, 12.0,
    )  # fmt: skip


def test_the_chain_starts_towards_the_direction_given():
    layout = lay(WINDOW, CELL, n_series=5, n_parallel=20, start_rad=0.0)
    x = layout.cells.centres_mm[:, 0]
    assert x[layout.cells.groups == 1].mean() > x[layout.cells.groups == 5].mean() + 100


def test_too_few_sites_say_how_many_fit_and_what_would_do():
    with pytest.raises(TooFewSitesError) as caught:
        lay(WINDOW, CELL, n_series=7, n_parallel=19, lattice="hexagonal")
    error = caught.value
    assert (error.n_fit, error.n_asked) == (130, 133)  # source: trade.md row 10
    (remedy,) = error.remedies  # the wall has no clearance to give
    assert remedy.what == "gap"
    assert f"gap of {remedy.mm:.1f} mm would let them fit" in str(error)
    lay(WINDOW, CELL, n_series=7, n_parallel=19, lattice="hexagonal", gap_mm=remedy.mm)
    with pytest.raises(TooFewSitesError):
        lay(WINDOW, CELL, n_series=7, n_parallel=19, lattice="hexagonal", gap_mm=remedy.mm + 0.1)


def test_clearances_are_named_where_a_smaller_one_would_do():
    housing = replace(BUOY, wall_clearance_mm=12.0, keep_out_clearance_mm=4.0)
    with pytest.raises(TooFewSitesError) as caught:
        lay(housing, CELL, n_series=5, n_parallel=18)
    ways = {remedy.what: remedy.mm for remedy in caught.value.remedies}
    assert "wall clearance" in ways
    lay(replace(housing, wall_clearance_mm=ways["wall clearance"]), CELL, n_series=5, n_parallel=18)


def test_where_nothing_would_do_the_message_says_how_many_to_ask_for():
    with pytest.raises(TooFewSitesError, match=r"No smaller gap or clearance would do; else ask for 6 × 21 cells"):
        lay(WINDOW, CELL, n_series=6, n_parallel=100)


def test_a_housing_too_small_for_one_cell_is_refused():
    with pytest.raises(NoRoomError):
        lay(Housing(outline=Contour.rectangle(15, 40)), CELL, n_series=1, n_parallel=1)


@pytest.mark.parametrize(("n_series", "n_parallel"), [(0, 4), (4, 0), (-1, 4), (2000, 1), (1000, 1000)])
def test_senseless_counts_are_refused_at_the_door(n_series, n_parallel):
    with pytest.raises(ValueOutOfRangeError):
        lay(WINDOW, CELL, n_series=n_series, n_parallel=n_parallel)


def test_an_unknown_lattice_is_refused():
    with pytest.raises(ValueOutOfRangeError):
        lay(WINDOW, CELL, n_series=2, n_parallel=2, lattice="brick")


def test_regrouping_keeps_the_cells_where_they_are():
    layout = lay(WINDOW, CELL, n_series=6, n_parallel=20)
    other = regroup(layout, chain="folded", n_series=5, n_parallel=22)
    np.testing.assert_array_equal(other.cells.centres_mm, layout.cells.centres_mm)
    assert np.bincount(other.cells.groups).tolist() == [10, 22, 22, 22, 22, 22]


def test_regrouping_a_layout_without_cells_leaves_it_alone():
    layout = lay(WINDOW, CELL, n_series=2, n_parallel=2)
    empty = replace(layout, cells=type(layout.cells)(np.empty((0, 2))))
    assert regroup(empty) == empty


def test_regrouping_too_few_cells_leaves_the_last_groups_short():
    layout = lay(WINDOW, CELL, n_series=2, n_parallel=6)
    short = regroup(layout, n_series=3)
    assert np.bincount(short.cells.groups, minlength=4).tolist() == [0, 6, 6, 0]


def test_a_wall_as_wide_as_the_setback_separates_groups():
    # a slit 0.4 mm wide parts the housing but for the upper end: chains run round it
    slit = Contour([(149.8, 0.5), (150.2, 0.5), (150.2, 150.0), (149.8, 150.0)])
    housing = replace(WINDOW, keep_outs=(slit,), keep_out_clearance_mm=0.1)
    layout = lay(housing, CELL, n_series=6, n_parallel=15)
    points, groups = layout.cells.centres_mm, layout.cells.groups
    found = neighbours(points, REACH_PITCHES * layout.lattice.pitch_mm, slit.polygon().buffer(2.0))
    pieces = Links(points, found.pairs, found.borders_mm, layout.lattice.pitch_mm).pieces(groups)
    assert len(np.unique(pieces)) == 6
