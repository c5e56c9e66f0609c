"""Charts of a small module, worked out once for all tests."""

from dataclasses import replace

import pytest

from layout_app.charting.charts import TITLES, chart_of
from layout_app.workings import Workings


@pytest.fixture
def worked(rows):
    """4 groups of 5 cells at 20 A, with a peak of 50 A."""
    return Workings(replace(rows, peak_current_a=50.0))


@pytest.fixture
def charts(worked):
    """Every chart of it, by key."""
    return {key: chart_of(key, worked.layout, worked.segments, worked.currents, worked.joint_faults) for key in TITLES}
