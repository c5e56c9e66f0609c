"""Currents of whole modules: laws, hand-made cases, the two models beside each other, and what cannot flow."""

import warnings
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout_app.cli import main
from layout_app.geometry.contours import Contour
from layout_app.model import saved_file
from layout_app.model.errors import LayoutError
from layout_app.model.joints import JointSettings
from layout_app.model.resources import sample_layouts
from layout_app.physics.currents import NetworkModel, SheetModel, network_currents
from layout_app.physics.joints import joint_ohm, lands
from layout_app.physics.module import CellCondition
from layout_app.physics.network import solve_network
from layout_app.plates.deriving import Plates
from layout_app.workings import Workings
from tests.plates.modules import CELL, PITCH_MM, banded, hexagonal, module, modules

SAMPLES = ("harbour_buoy", "orchard_rover", "canal_tender")
SMALL = {"n_columns": 6, "n_rows": 4, "n_series": 3}


@pytest.fixture(scope="module")
def sheet():
    return SheetModel(Plates(banded(**SMALL)))


@pytest.fixture(scope="module")
def models():
    """Network and sheet model of each small sample, the sheet's solution with it."""
    found = {}
    for path in sample_layouts().values():
        if path.stem in SAMPLES:
            plates = Workings(saved_file.load(path)).plates
            found[path.stem] = (NetworkModel(plates), SheetModel(plates))
    return found


def power_balance(found, layout):
    """Source power of the cells less what leaves the terminals and what is lost, over what is lost."""
    solved = found.solved
    loss_w = solved.segment_loss_w.sum() + solved.joint_loss_w + solved.cell_loss_w
    given_w = (solved.cell_current_a * layout.cell_type.voltage_nominal_v).sum()
    return (given_w - solved.voltage_v * solved.current_a - loss_w) / loss_w


def test_every_group_carries_the_whole_current_and_no_power_is_lost(sheet):
    """Laws: Kirchhoff and Tellegen, for both models; the sheet's losses are extrapolated, so nearly."""
    layout = sheet.plates.layout
    for found, exact in ((network_currents(sheet.plates, 50.0), 1e-9), (sheet.solve(50.0), 1e-5)):
        flow = found.solved.cell_current_a
        sums = np.bincount(layout.cells.groups, weights=flow)[1:]
        assert sums == pytest.approx(np.full(layout.n_series, 50.0), rel=1e-9)
        assert abs(power_balance(found, layout)) < exact


def test_without_current_equal_cells_rest(sheet):
    for found in (network_currents(sheet.plates, 0.0), sheet.solve(0.0)):
        assert found.solved.cell_current_a == pytest.approx(np.zeros(24), abs=1e-7)
        assert found.imbalance == 1.0  # not the ratio of what rounding leaves
        assert found.solved.voltage_v == pytest.approx(3 * CELL.voltage_nominal_v, rel=1e-9)


@settings(deadline=None, max_examples=20)
@given(current=st.floats(-200, 200), factor=st.floats(-3, 3))
def test_currents_are_proportional_and_resistance_is_not_a_matter_of_current(sheet, current, factor):
    """Law: linearity."""
    one, other = (network_currents(sheet.plates, amps).solved for amps in (current, current * factor))
    assert other.cell_current_a == pytest.approx(one.cell_current_a * factor, abs=1e-6)
    assert other.terminal_resistance_ohm == pytest.approx(one.terminal_resistance_ohm, rel=1e-9)
    sagging = 3 * CELL.voltage_nominal_v - one.voltage_v
    assert sagging == pytest.approx(current * one.terminal_resistance_ohm, abs=1e-7)


def test_metal_of_no_resistance_leaves_cells_and_joints_alone():
    """Derived: P equal branches side by side, S of them in series."""
    layout = banded(**SMALL)
    thin = replace(layout.plates.material, resistivity_ohm_m=1e-13)
    plates = Plates(replace(layout, plates=replace(layout.plates, material=thin)))
    joints = JointSettings(weld_ohm=1e-3)
    found = NetworkModel(plates, joints).solve(40.0)
    assert found.solved.cell_current_a == pytest.approx(np.full(24, 5.0), rel=1e-5)
    assert found.solved.terminal_resistance_ohm == pytest.approx(3 * (CELL.resistance_ohm + 2e-3) / 8, rel=1e-5)
    assert found.interconnect_resistance_ohm == pytest.approx(3 * 2e-3 / 8, rel=1e-3)
    assert found.imbalance == pytest.approx(1.0, abs=1e-5)


def test_the_module_is_the_network_it_says_it_is():
    """The same links and cells, node by node through the general entry for networks."""
    model = NetworkModel(Plates(banded(**SMALL)))
    layout, segments = model.plates.layout, model.plates.segments
    links = [
        ((k, int(a)), (k, int(b)), 1 / g)
        for k, metal in enumerate(model.metals)
        for a, b, g in zip(metal.start, metal.end, metal.conductance_s, strict=True)
    ]
    land = {}
    for k, segment in enumerate(segments):
        for j, cell in enumerate(segment.window_cells.tolist()):
            land[cell, bool(segment.is_positive_end[j])] = (k, j)
    branch = CELL.resistance_ohm + 2 * joint_ohm(model.joints)
    cells = [(land[c, False], land[c, True], CELL.voltage_nominal_v, branch) for c in range(len(layout.cells))]
    minus, plus = (0, len(segments[0].window_cells)), (3, len(segments[3].window_cells))
    other = solve_network(links, cells, [(minus, 30.0), (plus, -30.0)], reference=minus)
    found = model.solve(30.0).solved
    assert found.cell_current_a == pytest.approx(other.source_current_a, rel=1e-8)
    assert found.voltage_v == pytest.approx(other.voltage_v(plus, minus), rel=1e-9)


@pytest.mark.parametrize("name", SAMPLES)
def test_the_network_agrees_with_the_sheet_on_the_samples(models, name):
    """Cell currents' spread within 5 %, every single segment's loss within 10 %; asked for by the user."""
    network, sheet = models[name]
    quick, slow = network.solve().solved, sheet.solve().solved
    mean = slow.cell_current_a.mean()
    assert np.abs(quick.cell_current_a - slow.cell_current_a).max() < 0.01 * mean
    assert np.ptp(quick.cell_current_a) == pytest.approx(np.ptp(slow.cell_current_a), rel=0.05)
    assert quick.segment_loss_w == pytest.approx(slow.segment_loss_w, rel=0.10)
    assert quick.terminal_resistance_ohm == pytest.approx(slow.terminal_resistance_ohm, rel=0.01)


@settings(deadline=None, max_examples=8)
@given(layout=modules())
def test_both_models_agree_on_any_module_and_on_what_cannot_flow(layout):
    plates, told = Plates(layout), []
    for model in (NetworkModel, SheetModel):
        try:
            told.append(model(plates).solve(50.0).solved)
        except LayoutError as error:
            told.append(str(error))
    if isinstance(told[0], str):
        assert told[0] == told[1]
    else:
        quick, slow = told
        assert quick.terminal_resistance_ohm == pytest.approx(slow.terminal_resistance_ohm, rel=0.01)
        # a segment in which hardly any metal is crossed may be further off than ten per cent of its own small loss
        least_w = 0.05 * slow.segment_loss_w.sum()
        assert quick.segment_loss_w == pytest.approx(slow.segment_loss_w, rel=0.10, abs=least_w)


def test_a_plate_of_round_windows_meets_the_perforated_plate():
    """A long plate of windows in one segment between its lands, against the perforated plate's conductance.

    Source: trade.md section 4, hexagonal pattern 0.5077 of solid at hole/pitch 0.6, and 0.2641 at 0.8.
    """
    for share, conductance in ((0.6, 0.5077), (0.8, 0.2641)):
        points, _, column = hexagonal(30, 8)
        outline = Contour.rectangle(29.5 * PITCH_MM + 23, 7 * PITCH_MM * 0.75**0.5 + 23).moved(-11.5, -11.5)
        window = share * PITCH_MM
        sizes = {"positive_window_mm": window, "negative_window_mm": window, "min_web_mm": 0.5}
        cell = replace(CELL, button_diameter_mm=4.0)
        layout = module(points, np.where(column < 15, 1, 2), outline, cell=cell, **sizes)
        model = NetworkModel(Plates(layout))
        metal = model.metals[1]
        ohm = between_columns(metal, column, 5, 24)
        sheet_s = layout.plates.thickness_mm * 1e-3 / layout.plates.material.resistivity_ohm_m
        high = 8 * PITCH_MM * 0.75**0.5  # rows of the pattern; the edge strips make up for the rest, nearly
        assert ohm * sheet_s == pytest.approx(19 * PITCH_MM / high / conductance, rel=0.06)


def between_columns(metal, column, first, last):
    """Return the resistance of a segment between two columns of its lands, each column tied together."""
    names = {int(k): f"end {column[k]}" for k in np.flatnonzero((column == first) | (column == last))}
    links = [(names.get(int(a), int(a)), names.get(int(b), int(b)), 1 / g)
             for a, b, g in zip(metal.start, metal.end, metal.conductance_s, strict=True)]  # fmt: skip
    found = solve_network(links, (), [(f"end {first}", 1.0), (f"end {last}", -1.0)])
    return found.voltage_v(f"end {first}", f"end {last}")


def test_an_open_cell_leaves_its_share_to_its_group(sheet):
    for model in (NetworkModel(sheet.plates), sheet):
        found = model.solve(50.0, [CellCondition.opened(0)]).solved
        assert found.cell_current_a[0] == 0
        group = sheet.plates.layout.cells.groups == sheet.plates.layout.cells.groups[0]
        assert found.cell_current_a[group].sum() == pytest.approx(50.0, rel=1e-9)


def test_a_shorted_cell_is_fed_by_its_neighbours(sheet):
    """Derived: at rest the fault takes E / (R_fault + 2 R_j + (R_c + 2 R_j) / (P−1)), and less by what metal adds."""
    found = sheet.solve(0.0, [CellCondition.shorted(0, 5e-3)]).solved
    joints = 2 * joint_ohm(sheet.joints)
    most = CELL.voltage_nominal_v / (5e-3 + joints + (CELL.resistance_ohm + joints) / 7)
    assert 0.97 * most < -found.cell_current_a[0] < most


def test_a_fuller_cell_gives_more_even_at_rest(sheet):
    condition = CellCondition(cell=2, source_v=CELL.voltage_nominal_v + 0.05)
    found = network_currents(sheet.plates, 0.0, conditions=[condition]).solved
    assert found.cell_current_a[2] > 1.0
    assert found.cell_current_a.sum() == pytest.approx(0.0, abs=1e-7)


def test_two_meshes_bound_what_a_third_says(sheet):
    """The error estimate holds against a mesh half as coarse again."""
    from layout_app.physics import segment_sheets

    found = sheet.solve(50.0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(segment_sheets, "EDGES_PER_PITCH", 2 * segment_sheets.EDGES_PER_PITCH)
        patch.setattr(segment_sheets, "FOOT_SHARE", segment_sheets.FOOT_SHARE / 2)
        finer = SheetModel(sheet.plates).solve(50.0)
    assert np.abs(found.solved.cell_current_a - finer.solved.cell_current_a).max() < found.errors["cell_current_a"]
    apart = abs(found.solved.terminal_resistance_ohm - finer.solved.terminal_resistance_ohm)
    assert apart < found.errors["terminal_resistance_ohm"]


def test_the_field_of_a_segment_carries_what_the_module_says(sheet):
    """Its loss is the segment's, and the density across the tab's foot is current over section."""
    found = sheet.solve(50.0)
    field = sheet.field(0, found)
    loss = (field.loss_w_mm2 * field.mesh.areas_mm2).sum()
    assert abs(loss - found.solved.segment_loss_w[0]) <= found.errors["segment_loss_w"]
    size = np.hypot(*field.density_a_mm2.T)
    assert 0 < field.peak_a_mm2 <= size.max()
    assert field.foot_a_mm2 > 0


def test_the_joint_of_the_table():
    """Source: values.md section 9: 0.3749 Ω/m for 300 µm at 2.65e-8."""
    assert joint_ohm(JointSettings(n_wires=1, foot_ohm=0.0, wire_length_mm=1000.0)) == pytest.approx(0.3749, rel=2e-4)
    assert joint_ohm(JointSettings(weld_ohm=4e-4)) == 4e-4


def test_every_foot_sits_on_its_segments_metal():
    for path in sample_layouts().values():
        if path.stem in SAMPLES:
            layout = saved_file.load(path)
            for segment in Workings(layout).segments:
                metal = segment.metal(0.01)
                for feet in lands(segment, JointSettings(), layout.lattice.angle_rad).feet:
                    assert feet.difference(metal).area < 1e-9


def test_progress_is_told_and_can_end_the_work():
    plates, told = Plates(banded(**SMALL)), []
    SheetModel(plates, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0

    class EnoughError(Exception):
        pass

    def stop(share):
        raise EnoughError

    with pytest.raises(EnoughError):
        SheetModel(plates, progress=stop)


def test_links_of_unchanged_segments_are_lent():
    layout = banded(n_columns=8, n_rows=4, n_series=4)
    first = NetworkModel(Plates(layout))
    assert first.metals
    groups = layout.cells.groups.copy()
    border = np.flatnonzero(groups == 1)
    groups[border[np.argmax(layout.cells.centres_mm[border, 0])]] = 2
    again = NetworkModel(Plates(replace(layout, cells=layout.cells.regrouped(groups)), first.plates), previous=first)
    same = [a is b for a, b in zip(first.metals, again.metals, strict=True)]
    assert same[3:] == [True, True]
    assert not any(same[:3])


def test_sheets_of_unchanged_segments_are_lent_and_the_answer_is_that_of_a_new_model():
    layout = banded(n_columns=8, n_rows=4, n_series=4)
    first = SheetModel(Plates(layout))
    groups = layout.cells.groups.copy()
    border = np.flatnonzero(groups == 1)
    groups[border[np.argmax(layout.cells.centres_mm[border, 0])]] = 2
    plates = Plates(replace(layout, cells=layout.cells.regrouped(groups)), first.plates)
    again, anew = SheetModel(plates, previous=first), SheetModel(plates)
    lent = [again.known[segment] is first.known.get(segment) for segment in plates.segments]
    assert lent == [False, False, False, True, True]
    assert np.array_equal(again.solve(50.0).solved.cell_current_a, anew.solve(50.0).solved.cell_current_a)
    other = SheetModel(plates, joints=JointSettings(wire_diameter_mm=0.5), previous=first)
    assert all(other.known[segment] is not first.known.get(segment) for segment in plates.segments)


def split():
    """Return a module whose group 2 has a cell far from the others, on metal of its own."""
    points, _, column = hexagonal(6, 3)
    points = np.vstack([points, [[400.0, 20.0]]])
    groups = np.append(np.minimum(column // 2 + 1, 3), 2)
    return module(points, groups, Contour.rectangle(440, 90).moved(-12, -12))


def one_end():
    return banded(**SMALL, cell=replace(CELL, contacts="one end"))


LONELY = banded(**SMALL)
OPEN = [CellCondition.opened(k) for k in np.flatnonzero(LONELY.cells.groups == 2).tolist()]
UNGROUPED = replace(LONELY, cells=LONELY.cells.regrouped(np.where(LONELY.cells.groups == 2, 0, LONELY.cells.groups)))
SILLY = replace(LONELY.plates.material, resistivity_ohm_m=1e-16)
ABSURD = replace(LONELY, plates=replace(LONELY.plates, material=SILLY))
TROUBLES = {
    "split": (split(), {}, r"Segment 1: the metal over cell 19 leads to no terminal"),
    "one end": (one_end(), {}, "none is derived yet for cells contacted at one end"),
    "all open": (LONELY, {"conditions": OPEN}, "Group 2 has only open cells"),
    "empty group": (UNGROUPED, {}, "Group 2 has no cells"),
    "no such cell": (LONELY, {"conditions": [CellCondition.opened(99)]}, "There is no cell 100; the layout has 24"),
    "absurd": (ABSURD, {}, "too many powers of ten apart"),
    "no current": (LONELY, {"current_a": float("nan")}, "current is nan"),
}


@pytest.mark.parametrize(("layout", "asked", "message"), TROUBLES.values(), ids=TROUBLES)
def test_what_cannot_flow_is_said_in_words(layout, asked, message):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(LayoutError, match=message):
            network_currents(Plates(layout), **asked)


def test_windows_that_leave_only_shreds_are_named_or_answered_in_sound_numbers():
    """Windows of 30 mm on a pitch of 22.5 mm, cells missing: once a matrix that could not be solved. Whether rounding
    leaves one that can is up to the processor; the sheet finds no metal under a joint either way."""
    wide = {"positive_window_mm": 30.0, "min_web_mm": 0.0, "gap_mm": 0.5, "corner_radius_mm": 20.0}
    layout = banded(**SMALL, **wide)
    groups = [1, 1, 3, 2, 3, 3, 1, 1, 0, 2, 3, 3, 1, 1, 0, 2, 3, 3, 1, 1, 2, 2, 3, 3]
    plates = Plates(replace(layout, cells=layout.cells.regrouped(np.array(groups))))
    flow, said = None, ""
    try:
        flow = NetworkModel(plates).solve(50.0).solved.cell_current_a
    except LayoutError as error:
        said = str(error)
    if flow is None:
        assert "Segment 3: its metal is too thin between windows" in said
    else:
        assert np.bincount(groups, weights=flow)[1:] == pytest.approx(np.full(3, 50.0), rel=1e-6)
    with pytest.raises(LayoutError, match=r"Segment \d: the joint of cell \d+ has no metal under it"):
        SheetModel(plates)


def test_windows_that_touch_the_border_are_told_in_the_users_words():
    """Windows of 22 mm, tangent to the gap between segments: webs of no width."""
    layout = banded(**SMALL, positive_window_mm=22.0, min_web_mm=0.0, gap_mm=0.5)
    with pytest.raises(LayoutError, match=r"Segment 2: .*all but touch.*Make windows smaller"):
        SheetModel(Plates(layout))


def test_a_lattice_that_belies_its_cells_makes_no_finer_mesh():
    """Once, a pitch of 1 mm over cells 22.5 mm apart asked for millions of triangles."""
    layout = banded(n_columns=3, n_rows=3, n_series=1)
    belied = replace(layout, lattice=replace(layout.lattice, pitch_mm=1.0))
    meshes = [SheetModel(Plates(each)).known.values() for each in (layout, belied)]
    sound, fine = (sum(len(known.sheet.mesh.triangles) for known in each) for each in meshes)
    assert fine < 4 * sound


def test_absurd_values_stop_at_the_door():
    with pytest.raises(LayoutError, match="resistance of cell 1 is 0"):
        CellCondition(cell=0, resistance_ohm=0)
    with pytest.raises(LayoutError, match="wire diameter is -1"):
        JointSettings(wire_diameter_mm=-1)


def test_the_command_gives_the_keys_other_tools_rely_on(tmp_path, capsys):
    import json

    file = tmp_path / "m.busweave"
    saved_file.save(banded(**SMALL), file)
    for model in ("network", "sheet"):
        assert main(["currents", str(file), "--amps", "40", "--model", model, "--json"]) == 0
        told = json.loads(capsys.readouterr().out)
        keys = {"cell_current_a", "imbalance", "terminal_resistance_ohm", "interconnect_resistance_ohm",
                "segment_loss_w", "joint_loss_w", "cell_loss_w"}  # fmt: skip
        assert keys <= told.keys()
        assert len(told["cell_current_a"]) == 24
        assert len(told["segment_loss_w"]) == 4
    assert max(map(abs, told["network_difference"]["segment_loss_share"])) < 0.1
    assert main(["currents", str(file), "--model", "sheet"]) == 0
    said = capsys.readouterr().out
    assert "Estimated error" in said
    assert "losses of segments within" in said
