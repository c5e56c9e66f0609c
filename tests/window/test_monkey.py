"""Random gestures over all tools raise nothing, and undoing everything gives the very first layout."""

import pytest

from .monkey import Monkey, undo_everything


@pytest.mark.parametrize("seed", [1, 2])
def test_after_any_gestures_undoing_everything_gives_the_first_layout(open_module, qtbot, seed):
    workbench = open_module(4, 6, 6)
    first = workbench.document.current
    monkey = Monkey(workbench, seed)
    monkey.play(150)
    workbench.canvas.cancel_gesture()
    assert undo_everything(workbench) > 5, monkey.did
    assert workbench.document.current is first
    assert workbench.document.layout is first
    qtbot.waitUntil(lambda: workbench.document.is_settled, timeout=20_000)
