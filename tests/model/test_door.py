"""The door of the model: what no value may hold, for every field of every dataclass."""

import math
from dataclasses import fields, replace
from typing import get_type_hints

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.geometry.contours import Contour
from layout_app.model.cell_types import CellType
from layout_app.model.cells import Cells
from layout_app.model.errors import CellsOutOfRangeError, LayoutError, ValueOutOfRangeError
from layout_app.model.housings import Housing
from layout_app.model.joints import JointSettings
from layout_app.model.lattices import Lattice
from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits
from layout_app.model.materials import Material
from layout_app.model.plates import PlateSettings, Terminal
from layout_app.model.validation import MAX_CELLS, require_number

MATERIAL = Material(
    id="m", name="M", resistivity_ohm_m=2e-8, temperature_coefficient_per_k=0.004, density_kg_m3=9000.0,
    conductivity_w_mk=400.0, heat_capacity_j_kgk=400.0, melting_c=1000.0, current_density_a_mm2=(5.0, 10.0), source="",
)  # fmt: skip
CELL_TYPE = CellType(
    id="c", name="C", diameter_mm=20.0, diameter_tolerance_mm=0.2, height_mm=70.0, mass_g=60.0, capacity_ah=4.0,
    voltage_min_v=2.5, voltage_nominal_v=3.6, voltage_max_v=4.2, resistance_ohm=0.02, continuous_current_a=10.0,
    peak_current_a=20.0, contacts="opposite ends", button_diameter_mm=9.0, shoulder_diameter_mm=17.0,
    bottom_diameter_mm=15.0,
)  # fmt: skip
HOUSING = Housing(outline=Contour.rectangle(100, 50))
LATTICE = Lattice.hexagonal(21.0)
LAYOUT = Layout(
    name="tender", housing=HOUSING, cell_type=CELL_TYPE, lattice=LATTICE, cells=Cells([(20, 20), (41, 20)], [1, 2]),
    n_series=2, n_parallel=1, plates=PlateSettings(material=MATERIAL),
)  # fmt: skip
JOINTS = JointSettings()
VALUES = [
    MATERIAL, CELL_TYPE, HOUSING, LATTICE, Limits(), PlateSettings(material=MATERIAL), Terminal(), JOINTS,
    JOINTS.wire_metal, LAYOUT,
]  # fmt: skip
SIGNED = {"angle_rad", "busbar_c"}  # the plain numbers that may be negative


def fields_of(kind):
    """Return (value, field name) for every field annotated with `kind`, over all dataclasses."""
    pairs = []
    for value in VALUES:
        hints = get_type_hints(type(value))
        pairs += [(value, field.name) for field in fields(value) if hints[field.name] == kind]
    return pairs


NUMBERS = fields_of(float) + fields_of(float | None)
PAIRS = fields_of(tuple[float, float]) + fields_of(tuple[float, float] | None)
COUNTS = fields_of(int)
TEXTS = fields_of(str)


def refused(value, field, found):
    with pytest.raises(LayoutError) as caught:
        replace(value, **{field: found})
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


def test_the_lists_above_reach_every_dataclass():
    assert (len(NUMBERS), len(PAIRS), len(COUNTS)) >= (35, 3, 2)
    assert {type(value) for value, _ in NUMBERS} == {type(value) for value in VALUES}


@settings(deadline=None)
@given(
    st.sampled_from(NUMBERS),
    st.sampled_from([math.nan, math.inf, -math.inf, 1e300, -1e300, 10**400, 10**5000, True, "1", [1.0], 1j]),
)
def test_no_number_may_be_anything_but_a_finite_number_of_sensible_size(place, found):
    refused(*place, found)


@settings(deadline=None)
@given(st.sampled_from([place for place in NUMBERS if place[1] not in SIGNED]), st.floats(-1e6, -1e-9))
def test_no_length_mass_voltage_or_current_may_be_negative(place, found):
    refused(*place, found)


@given(
    st.sampled_from(PAIRS),
    st.sampled_from([(math.nan, 1.0), (1.0, math.inf), (1e12, 1e12), (1.0,), (1.0, 1.0, 1.0), ("1", 1.0), (True, 1.0),
                     [1.0, 1.0], 1.0, "ab"]),
)  # fmt: skip
def test_no_pair_may_be_anything_but_two_finite_numbers_of_sensible_size(place, found):
    refused(*place, found)


@given(st.sampled_from(COUNTS), st.one_of(st.integers(max_value=0), st.integers(min_value=MAX_CELLS + 1)))
def test_no_count_may_be_absurd(place, found):
    refused(*place, found)


@given(st.sampled_from(COUNTS), st.sampled_from([1.0, math.nan, True, "2", None, 10**5000]))
def test_no_count_may_be_anything_but_a_whole_number(place, found):
    refused(*place, found)


@given(st.sampled_from(TEXTS), st.sampled_from([None, 5, b"x", "\ud800", "x" * 200_001]))
def test_no_text_may_be_anything_but_text_that_a_file_can_hold(place, found):
    refused(*place, found)


@pytest.mark.parametrize("found", ["two\nlines", "end\n", "\u2028", "nul\0", "tab\t"])
def test_names_are_one_line(found):
    for value in (LAYOUT, CELL_TYPE, MATERIAL):
        refused(value, "name", found)


@pytest.mark.parametrize("found", ["", "  ", "a\nb"])
def test_an_id_is_a_word(found):
    refused(CELL_TYPE, "id", found)
    refused(MATERIAL, "id", found)


@pytest.mark.parametrize(
    ("value", "field"),
    [(CELL_TYPE, "contacts"), (LATTICE, "kind"), (VALUES[5], "borders"), (Terminal(), "bolt"), (Terminal(), "place"),
     (LAYOUT, "chain")],
)  # fmt: skip
@pytest.mark.parametrize("found", ["other", "", 1, None, ["M5"]])
def test_a_choice_is_one_of_those_there_are(value, field, found):
    refused(value, field, found)


@pytest.mark.parametrize("found", [1, 0, None, "true"])
def test_a_flag_is_true_or_false(found):
    refused(LAYOUT, "first_group_up", found)


def test_series_times_parallel_stays_within_the_cells_a_layout_may_have():
    replace(LAYOUT, n_series=1000, n_parallel=100)
    refused(replace(LAYOUT, n_series=1000, n_parallel=100), "n_parallel", 101)


def test_a_layout_has_two_terminals():
    refused(LAYOUT, "terminals", (Terminal(),))


def test_groups_end_with_the_chain():
    with pytest.raises(CellsOutOfRangeError, match="Cell 2 is in group 2, but the chain has only 1") as caught:
        replace(LAYOUT, n_series=1)
    assert caught.value.cells == (1,)


# -- cells ------------------------------------------------------------------------------------------------------------


@settings(deadline=None)
@given(st.integers(1, 20), st.data())
def test_every_cell_out_of_reach_is_named(n, data):
    centres = np.zeros((n, 2))
    bad = sorted(data.draw(st.sets(st.integers(0, n - 1), min_size=1)))
    for cell in bad:
        axis = data.draw(st.integers(0, 1))
        centres[cell, axis] = data.draw(st.sampled_from([math.nan, math.inf, -math.inf, 1e9]))
    with pytest.raises(CellsOutOfRangeError) as caught:
        Cells(centres)
    assert list(caught.value.cells) == bad


@pytest.mark.parametrize("centres", [[1, 2], [(1, 2, 3)], [[(1, 2)]], [("a", "b")], [(1,), (1, 2)], [(None, 1)], "ab"])
def test_centres_are_pairs_and_never_folded_into_some(centres):
    with pytest.raises(CellsOutOfRangeError):
        Cells(centres)


@pytest.mark.parametrize(
    "groups", [[1.0], [1.5], [math.nan], ["1"], [True], [-1], [2**63], [10**30], [1, 2], [[1]], [[1], [1, 2]]]
)
def test_groups_are_whole_numbers_and_never_rounded(groups):
    with pytest.raises(CellsOutOfRangeError):
        Cells([(0, 0)], groups)


def test_no_layout_has_an_absurd_number_of_cells():
    with pytest.raises(ValueOutOfRangeError, match="number of cells"):
        Cells(np.zeros((MAX_CELLS + 1, 2)))


def test_cells_copy_what_they_are_given_and_cannot_be_written():
    centres, groups = np.zeros((2, 2)), np.ones(2, dtype=int)
    cells = Cells(centres, groups)
    centres[0, 0] = groups[0] = 9
    assert cells.centres_mm[0, 0] == 0
    assert cells.groups[0] == 1
    for column in (cells.centres_mm, cells.groups):
        with pytest.raises(ValueError, match="read-only"):
            column[0] = 5


# -- housings ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("loop", "says"),
    [
        (Contour([(0, 0), (5, 0), (9, 0)]), "encloses no area"),
        (Contour([(0, 0), (0, 0), (0, 0)]), "single point"),
        (Contour([(0, 0), (0.01, 0), (0, 0.01)]), "encloses no area"),
        (Contour.rectangle(100_001, 5), "Check the units"),
        (Contour.rectangle(5, 5).moved(2e8, 0), "further than"),
        (Contour([(0, 0), (5, 0), (0, 5)], [1e7, 0, 0]), "bulge"),
        (Contour([(0, 0), (5, 0), (0, 5)], [1e200, 0, 0]), "bulge"),
        (Contour([(-1e308, 0), (1e308, 0), (0, 5)]), "further than"),
    ],
)
def test_a_loop_nobody_could_compute_with_is_refused(loop, says):
    with pytest.raises(LayoutError, match=f"outline.*{says}"):
        Housing(outline=loop)
    with pytest.raises(LayoutError, match=f"Keep-out 2.*{says}"):
        Housing(outline=Contour.rectangle(10, 10), keep_outs=(Contour.circle(5, 5, 1), loop))


def test_an_arc_that_reaches_further_than_its_ends_counts_towards_the_size():
    # derived: chord 10 mm, bulge 1e5, so the radius is 10 × 1e5 / 4 = 250 m
    with pytest.raises(LayoutError, match="Check the units"):
        Housing(outline=Contour([(0, 0), (10, 0), (5, 5)], [1e5, 0, 0]))


def test_loops_are_stored_counter_clockwise_without_hair_thin_arcs_or_null_edges():
    square = [(0, 0), (0, 9), (9, 9), (9, 9), (9, 0)]
    housing = Housing(outline=Contour(square, [0, 1e-300, 0, 0, 0]))
    assert housing.outline == Contour([(0, 0), (9, 0), (9, 9), (0, 9)])
    assert housing.outline.area_mm2 == 81


def test_an_absurd_number_of_keep_outs_is_refused():
    with pytest.raises(LayoutError, match="number of keep-outs"):
        Housing(outline=Contour.rectangle(10, 10), keep_outs=(Contour.circle(5, 5, 1),) * 10_001)


# -- lattices ---------------------------------------------------------------------------------------------------------


@settings(deadline=None)
@given(
    st.sampled_from(["hexagonal", "square", "compressed"]), st.floats(1, 100), st.floats(1, 1.9), st.floats(0.1, 1.5)
)
def test_no_lattice_brings_sites_closer_than_its_pitch(kind, pitch_mm, along, row):
    try:
        lattice = Lattice(kind=kind, pitch_mm=pitch_mm, along_mm=along * pitch_mm, row_mm=row * pitch_mm)
    except LayoutError:
        lattice = None
    rows, columns = np.divmod(np.arange(25.0), 5)
    shift = 0 if kind == "square" else rows % 2 / 2
    points = np.column_stack([(columns + shift) * along, rows * row])
    distances = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))[np.triu_indices(25, 1)]
    assert (lattice is not None) == (distances.min() >= 1 - 1e-6) or abs(distances.min() - 1) < 2e-6


# -- messages ---------------------------------------------------------------------------------------------------------


def test_a_message_names_field_found_and_wanted():
    with pytest.raises(ValueOutOfRangeError) as caught:
        PlateSettings(material=MATERIAL, gap_mm=-0.2)
    assert str(caught.value) == "insulation gap is -0.2 mm; it must be more than 0 and at most 50 mm."


def test_a_message_writes_whole_numbers_out_and_asks_for_a_finite_number_only_where_there_is_none():
    with pytest.raises(ValueOutOfRangeError, match=r"^width is 1000000000 mm; it must be at most 100000 mm\.$"):
        require_number("width", 1e9, most=1e5, unit="mm")
    with pytest.raises(ValueOutOfRangeError, match=r"^width is 0; it must be at least 1\.$"):
        require_number("width", 0.0, least=1)
    with pytest.raises(ValueOutOfRangeError, match="must be a finite number and at least 1 mm"):
        require_number("width", math.nan, least=1, unit="mm")


@pytest.mark.parametrize("first_up", [True, False])
def test_groups_stand_alternately_and_cells_in_no_group_like_the_first(first_up):
    cells = Cells([(20.0 * k, 20.0) for k in range(5)], [1, 2, 3, 0, 2])
    layout = replace(LAYOUT, cells=cells, n_series=3, first_group_up=first_up)
    assert layout.positive_up.tolist() == [up == first_up for up in (True, False, True, True, False)]
