"""The neck rule shows current density beside the common range and passes no verdict."""

import numpy as np
import pytest

from layout_app.checks.necks import neck_density
from layout_app.checks.rules import neck_findings
from layout_app.physics.min_cuts import Cut


def neck(width_mm, current_a=80.0, segment=3):
    """Return a neck of 0.5 mm sheet across the line y = 5."""
    line = np.array([[0.0, 5.0], [width_mm / 2, 5.0], [width_mm, 5.0]])
    density = current_a / (width_mm * 0.5) if width_mm else np.inf
    return Cut(segment, width_mm, (line,) if width_mm else (), current_a, density, np.array([0]))


def test_density_above_the_common_range_is_noted_with_width_current_and_place(bench):
    layout = bench.lay(bench.row(2), n_parallel=2, design_current_a=80.0)
    (finding,) = neck_density(neck(8.0), layout)
    assert finding.severity == "note"
    assert finding.measured == pytest.approx(80.0 / (8.0 * 0.5))  # derived: 20 A/mm² in 0.5 mm sheet
    assert finding.limit == 10.0  # short thin copper links, continuous: 5 to 10 A/mm², common practice, no source
    assert finding.places_mm == ((4.0, 5.0),)
    assert "16.0 mm" in finding.message  # derived: 80 A / (10 A/mm² × 0.5 mm)


def test_density_at_the_end_of_the_range_says_nothing(bench):
    layout = bench.lay(bench.row(2), n_parallel=2, design_current_a=80.0)
    assert not list(neck_density(neck(16.0), layout))


def test_without_a_design_current_or_without_metal_there_is_nothing_to_note(bench):
    quiet = bench.lay(bench.row(2), n_parallel=2)
    loaded = bench.lay(bench.row(2), n_parallel=2, design_current_a=80.0)
    assert not list(neck_density(neck(1.0), quiet))
    assert neck_findings(loaded, [None, neck(0.0, segment=1)]) == ()
