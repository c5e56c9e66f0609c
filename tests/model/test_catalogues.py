"""The catalogues: plausible by outside ranges, complete, and patient with what users write."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout_app.model import catalogues
from layout_app.model.errors import FileError, LayoutError
from layout_app.model.resources import resource

SHIPPED = catalogues.cell_types()
SHIPPED_TEXT = resource("cells.toml").read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    """Keep the cells of whoever runs the tests out of them."""
    monkeypatch.setenv(catalogues.SETTINGS_VARIABLE, str(tmp_path))
    return tmp_path


def size_of(cell):
    return cell.id[:5]


# -- what is shipped --------------------------------------------------------------------------------------------------


def test_there_are_the_sizes_and_kinds_an_engineer_asks_for():
    assert {size_of(cell) for cell in SHIPPED.values()} >= {"18650", "21700", "26650", "32700", "46800"}
    for size in ("18650", "21700", "26650", "32700", "46800"):
        assert {f"{size}-energy", f"{size}-power"} <= set(SHIPPED)
    assert SHIPPED["46800-energy-one-end"].contacts == "one end"
    assert all(("one-end" in id_) == (cell.contacts == "one end") for id_, cell in SHIPPED.items())
    assert all(cell.id == id_ for id_, cell in SHIPPED.items())


def test_every_type_says_that_it_is_typical():
    assert {cell.source for cell in SHIPPED.values()} == {"typical; replace by your data sheet"}


@pytest.mark.parametrize("cell", SHIPPED.values(), ids=list(SHIPPED))
def test_sizes_are_what_the_designation_says(cell):
    # IEC 61960 (read in reproduction): first two digits the diameter in mm, last three the height in 0.1 mm;
    # a sleeved can is up to 0.6 mm thicker and 0.6 mm longer (real sleeved cells: common practice, from memory)
    assert 0 <= cell.diameter_mm - int(size_of(cell)[:2]) < 0.6
    assert cell.largest_diameter_mm - int(size_of(cell)[:2]) <= 0.6
    in_whole_mm = size_of(cell) == "40135"  # from 100 mm up the trade drops the tenth, where IEC puts a slash
    height_mm = int(size_of(cell)[2:]) / (1 if in_whole_mm else 10)
    assert abs(cell.height_mm - height_mm) <= 0.6


# Real sleeved diameter and height mm, mass g, d.c. resistance mΩ (10 s, 25 °C, half charged):
# common practice, from memory
RANGES = {
    "18650": ((18.2, 18.6), (64.8, 65.3), (44, 50), (15, 60)),
    "21700": ((21.0, 21.3), (69.9, 70.4), (65, 72), (10, 30)),
    "26650": ((26.0, 26.5), (65.0, 65.6), (82, 95), (6, 30)),
    "46800": ((46.0, 46.3), (79.8, 80.2), (340, 380), (1.5, 5)),
}


@pytest.mark.parametrize("cell", [c for c in SHIPPED.values() if size_of(c) in RANGES], ids=lambda cell: cell.id)
def test_common_sizes_lie_in_the_ranges_of_practice(cell):
    diameter_mm, height_mm, mass_g, milliohm = RANGES[size_of(cell)]
    assert diameter_mm[0] <= cell.diameter_mm
    assert cell.largest_diameter_mm <= diameter_mm[1]
    assert height_mm[0] <= cell.height_mm <= height_mm[1]
    assert mass_g[0] <= cell.mass_g <= mass_g[1]
    assert milliohm[0] <= cell.resistance_ohm * 1000 <= milliohm[1]


@pytest.mark.parametrize("cell", SHIPPED.values(), ids=list(SHIPPED))
def test_every_type_hangs_together(cell):
    litres = math.pi / 4 * cell.diameter_mm**2 * cell.height_mm * 1e-6
    energy_wh = cell.capacity_ah * cell.voltage_nominal_v
    # density of the extremes above: 44 g in 18.3 × 65 mm to 95 g in 26.2 × 65.3 mm is 2.6 to 2.7 kg/l; iron phosphate
    # and small sizes are lighter: 2.1 kg/l (from memory)
    assert 2.1 <= cell.mass_g / 1000 / litres <= 3.0
    assert 90 <= energy_wh / cell.mass_g * 1000 <= 280  # Wh/kg, lithium-ion round cells: common practice, no source
    # the shoulder ring is 1 to 1.5 mm wide (common practice, from memory)
    assert 1.0 <= (cell.diameter_mm - cell.shoulder_diameter_mm) / 2 <= 1.51
    assert cell.button_diameter_mm < cell.bottom_diameter_mm < cell.shoulder_diameter_mm
    # ten seconds at peak current must leave a half-charged cell above its lowest voltage
    assert cell.voltage_nominal_v - cell.peak_current_a * cell.resistance_ohm > cell.voltage_min_v


def test_power_types_give_more_current_and_less_charge_than_energy_types():
    for id_, power in SHIPPED.items():
        if "power" in id_:
            energy = SHIPPED[id_.replace("power", "energy")]
            assert power.continuous_current_a > energy.continuous_current_a
            assert power.capacity_ah < energy.capacity_ah
            assert power.resistance_ohm < energy.resistance_ohm


def test_the_18650_energy_cell_is_the_one_of_the_check_values():
    # common practice, no source: 6 × 86 cells of 3.4 Ah, 3.6 V nominal, 4.2 V full hold 6.3 kWh
    cell = catalogues.cell_type("18650-energy")
    assert (cell.capacity_ah, cell.voltage_nominal_v, cell.voltage_max_v) == (3.4, 3.6, 4.2)
    assert round(516 * cell.capacity_ah * cell.voltage_nominal_v / 1000, 1) == 6.3


# resistivity Ω·m, α20 1/K, density kg/m³, W/(m·K), current density A/mm² for short thin links
MATERIAL_VALUES = {
    "copper": (1.7241e-8, 0.00393, 8890, 393, (5, 10)),  # IEC 60028, NBS Handbook 100, Glück 1985; last: from memory
    "aluminium-1050": (2.82e-8, 0.00403, 2710, 222, (3, 6)),  # rolled-products data sheet, IEC 60889
    "nickel-200": (9.64e-8, 0.0043, 8890, 70.2, (4, 7)),  # alloy bulletin
}


@pytest.mark.parametrize("id_", MATERIAL_VALUES)
def test_materials_have_their_published_values(id_):
    metal = catalogues.material(id_)
    found = (metal.resistivity_ohm_m, metal.temperature_coefficient_per_k, metal.density_kg_m3,
             metal.conductivity_w_mk, metal.current_density_a_mm2)  # fmt: skip
    assert found == MATERIAL_VALUES[id_]


@pytest.mark.parametrize("metal", catalogues.materials().values(), ids=list(catalogues.materials()))
def test_every_metal_obeys_the_law_of_wiedemann_and_franz_roughly(metal):
    # k·ρ/T is 2.44e-8 V²/K² (Sommerfeld); alloys and iron stray by about a fifth
    lorenz = metal.conductivity_w_mk * metal.resistivity_ohm_m / 293.15
    assert lorenz == pytest.approx(2.44e-8, rel=0.2)
    assert metal.source


@pytest.mark.parametrize(
    ("id_", "heat"), [("copper", 3.45e6), ("aluminium-1050", 2.5e6), ("steel-nickel-plated", 3.8e6)]
)
def test_heat_capacities_agree_with_those_of_iec_60949(id_, heat):
    metal = catalogues.material(id_)
    assert metal.density_kg_m3 * metal.heat_capacity_j_kgk == pytest.approx(heat, rel=0.005)


def test_half_hard_copper_and_brass_conduct_as_published():
    annealed_ohm_m = 1.7241e-8  # IEC 60028
    assert annealed_ohm_m / catalogues.material("copper-half-hard").resistivity_ohm_m == pytest.approx(0.97, abs=1e-4)
    brass = catalogues.material("brass-70-30")
    assert brass.resistivity_ohm_m == 6.08e-8  # CRC Handbook, 20 °C
    assert 1 + 80 * brass.temperature_coefficient_per_k == pytest.approx(6.91 / 6.08, rel=0.005)  # CRC, 100 and 20 °C


@pytest.mark.parametrize("id_", ["brass-70-30", "steel-nickel-plated"])
def test_current_densities_without_a_published_range_are_scaled_from_copper(id_):
    # derived: same heat per volume at j ∝ √(1/ρ)
    copper, metal = catalogues.material("copper"), catalogues.material(id_)
    ratio = math.sqrt(copper.resistivity_ohm_m / metal.resistivity_ohm_m)
    for low_or_high, of_copper in zip(metal.current_density_a_mm2, (5, 10), strict=True):
        assert low_or_high == pytest.approx(of_copper * ratio, abs=0.05)


def test_callers_cannot_change_the_catalogue():
    catalogues.cell_types().clear()
    catalogues.materials().clear()
    assert "21700-energy" in catalogues.cell_types()
    assert "copper" in catalogues.materials()


def test_an_unknown_id_is_answered_with_those_that_come_near():
    with pytest.raises(LayoutError, match=r"no cell type '21700-enrgy'. Near: 21700-energy"):
        catalogues.cell_type("21700-enrgy")
    with pytest.raises(LayoutError, match="Near: 46800-energy, 46800-power"):
        catalogues.cell_type("46")
    with pytest.raises(LayoutError, match="There are copper, copper-half-hard"):
        catalogues.material("unobtainium")


# -- the user's own --------------------------------------------------------------------------------

ENTRY = SHIPPED_TEXT[SHIPPED_TEXT.index("[21700-energy]") : SHIPPED_TEXT.index("[21700-power]")]


def written(folder, text) -> Path:
    path = folder / "cells.toml"
    path.write_text(text, encoding="utf-8")
    return path


def entry(id_, **changes):
    text = ENTRY.replace("21700-energy", id_)
    for field, value in changes.items():
        start = text.index(f"\n{field} = ") + 1
        text = text[:start] + f"{field} = {value}" + text[text.index("\n", start) :]
    return text


def test_the_users_cells_join_ours(own_folder):
    written(own_folder, entry("barge-cell", mass_g="71.5"))
    assert catalogues.cell_type("barge-cell") == replace(SHIPPED["21700-energy"], id="barge-cell", mass_g=71.5)
    assert set(catalogues.cell_types()) == {*SHIPPED, "barge-cell"}
    assert catalogues.user_cell_problems() == ()


def test_whole_numbers_and_windows_files_are_fine(own_folder):
    (own_folder / "cells.toml").write_bytes(b"\xef\xbb\xbf" + entry("a", mass_g=71).replace("\n", "\r\n").encode())
    assert catalogues.cell_type("a").mass_g == 71


def test_a_users_type_takes_the_place_of_ours(own_folder):
    written(own_folder, entry("21700-energy", capacity_ah="4.9", source='"measured on the bench"'))
    assert catalogues.cell_type("21700-energy").capacity_ah == 4.9
    assert len(catalogues.cell_types()) == len(SHIPPED)


def test_no_file_is_no_problem(own_folder):
    assert catalogues.user_cells_file() == own_folder / "cells.toml"
    assert catalogues.user_cell_problems() == ()


def test_without_the_variable_the_file_lies_in_the_platforms_folder(monkeypatch):
    monkeypatch.delenv(catalogues.SETTINGS_VARIABLE)
    monkeypatch.setenv("XDG_CONFIG_HOME", "/settings")  # the variable of the XDG base directory specification
    monkeypatch.setattr("sys.platform", "linux")
    assert catalogues.user_cells_file().parts[-2:] == ("busweave", "cells.toml")


@pytest.mark.parametrize(
    ("changes", "place", "says"),
    [
        ({"mass_g": "-5"}, "mass_g", "more than 0"),
        ({"mass_g": "nan"}, "mass_g", "found nan"),
        ({"mass_g": '"70 g"'}, "mass_g", "found '70 g'; it must be a finite number"),
        ({"mass_g": "1979-05-27"}, "mass_g", "it must be a finite number"),
        ({"mass_g": "1e5_0"}, "mass_g", "at most 100000"),
        ({"voltage_max_v": "3.0"}, "voltage_max_v", "at least 3.6"),
        ({"contacts": '"both ends"'}, "contacts", "one of opposite ends, one end"),
        ({"mass_g": "1\nmas_g = 2"}, "mas_g", "Did you mean mass_g?"),
        ({"mass_g": "1\nid = 'x'"}, "id", "the table's name"),
    ],
)
def test_a_bad_entry_is_named_and_the_others_stay(own_folder, changes, place, says):
    path = written(own_folder, entry("good") + entry("bad", **changes) + entry("also-good"))
    assert {"good", "also-good", *SHIPPED} == set(catalogues.cell_types())
    (problem,) = catalogues.user_cell_problems()
    bad_lines = [n for n, line in enumerate(path.read_text().split("\n"), 1) if line.startswith(f"{place} = ")]
    first_bad = path.read_text().split("\n").index("[bad]") + 1
    assert problem.line == min(n for n in bad_lines if n > first_bad)
    assert str(problem).startswith(f"{path}, line {problem.line}: bad.{place}: ")
    assert says in str(problem)


def test_a_missing_field_is_named_with_the_line_of_its_table(own_folder):
    written(own_folder, "\n\n" + "\n".join(line for line in entry("bad").split("\n") if "height" not in line))
    (problem,) = catalogues.user_cell_problems()
    assert (problem.line, problem.place) == (3, "bad.height_mm")


def test_something_outside_any_table_is_named(own_folder):
    written(own_folder, "# mine\nmass_g = 5\n" + entry("good"))
    (problem,) = catalogues.user_cell_problems()
    assert (problem.line, problem.place) == (2, "mass_g")
    assert "good" in catalogues.cell_types()


@pytest.mark.parametrize(
    ("content", "line", "says"),
    [
        (b"[a]\nmass_g == 5\n", 2, "not sound TOML"),
        (b"[a]\n[a]\n", 2, "not sound TOML"),
        (b"[a]\nx = 1" + b"0" * 5000, None, "not sound TOML"),
        (b"[a]\nname = \"\xff\"", None, "not UTF-8 text (byte 12)"),
        (b"a = " + b"[" * 100_000, None, "not sound TOML"),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_one_problem_and_leaves_ours(own_folder, content, line, says):
    (own_folder / "cells.toml").write_bytes(content)
    assert catalogues.cell_types() == SHIPPED
    (problem,) = catalogues.user_cell_problems()
    assert says in str(problem)
    assert problem.line == line


def test_a_folder_in_place_of_the_file_is_one_problem(own_folder):
    (own_folder / "cells.toml").mkdir()
    (problem,) = catalogues.user_cell_problems()
    assert "cannot be read" in str(problem)
    assert catalogues.cell_types() == SHIPPED


def test_a_path_gives_the_one_cell_its_file_holds(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(entry("barge-cell"), encoding="utf-8")
    assert (
        catalogues.cell_type(str(path))
        == catalogues.cell_type(path)
        == replace(SHIPPED["21700-energy"], id="barge-cell")
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [("", "holds 0 cell types"), (entry("a") + entry("b"), "holds 2 cell types"), (entry("a", mass_g=-1), "a.mass_g"),
     ("[a", "not sound TOML")],
)  # fmt: skip
def test_a_path_to_anything_else_is_refused(tmp_path, text, says):
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match=says):
        catalogues.cell_type(str(path))


def test_a_path_to_nothing_is_refused(tmp_path):
    with pytest.raises(FileError, match="no such file"):
        catalogues.cell_type(str(tmp_path / "missing.toml"))


@settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, len(ENTRY.encode()) - 1), st.integers(0, 255)), min_size=1, max_size=4))
def test_fuzz_any_damage_to_the_users_file_leaves_ours_and_says_what_is_wrong(own_folder, flips):
    data = bytearray(ENTRY.replace("21700-energy", "mine").encode())
    for place, byte in flips:
        data[place % len(data)] = byte
    (own_folder / "cells.toml").write_bytes(bytes(data))
    types, problems = catalogues.cell_types(), catalogues.user_cell_problems()
    assert set(SHIPPED) <= set(types)
    assert all(str(problem).startswith(str(own_folder)) and "\n" not in str(problem) for problem in problems)
