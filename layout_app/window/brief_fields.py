"""Brief fields: what is asked of a module, each with its unit, what it may be, and what it means when left empty."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from PySide6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from layout_app.model.cell_types import CellType
from layout_app.model.layouts import MAX_SERIES
from layout_app.model.validation import MAX_CELLS, require_count, require_number
from layout_app.window.panels.fields import ChoiceField, Field, NumberField, Request, TextField

translate = QCoreApplication.translate
NUMBERS = {  # name: label, unit, first value, step, whole, least, most, what nothing means, tip
    "n_series": (
        QT_TRANSLATE_NOOP("brief", "Series"),
        "",
        6,
        1,
        True,
        1,
        MAX_SERIES,
        QT_TRANSLATE_NOOP("brief", "by voltage"),
        QT_TRANSLATE_NOOP("brief", "Groups one after the other"),
    ),
    "lowest_v": (
        QT_TRANSLATE_NOOP("brief", "Lowest, empty"),
        "V",
        None,
        1,
        False,
        0,
        1e5,
        QT_TRANSLATE_NOOP("brief", "any"),
        QT_TRANSLATE_NOOP("brief", "What the empty module shall still give"),
    ),
    "highest_v": (
        QT_TRANSLATE_NOOP("brief", "Highest, full"),
        "V",
        None,
        1,
        False,
        0,
        1e5,
        QT_TRANSLATE_NOOP("brief", "any"),
        QT_TRANSLATE_NOOP("brief", "What the full module shall not exceed"),
    ),
    "n_parallel": (
        QT_TRANSLATE_NOOP("brief", "Parallel"),
        "",
        None,
        1,
        True,
        1,
        MAX_CELLS,
        QT_TRANSLATE_NOOP("brief", "what fits"),
        QT_TRANSLATE_NOOP("brief", "Cells in each group"),
    ),
    "energy_wh": (
        QT_TRANSLATE_NOOP("brief", "Energy, at least"),
        "Wh",
        None,
        50,
        False,
        0,
        1e9,
        QT_TRANSLATE_NOOP("brief", "any"),
        QT_TRANSLATE_NOOP("brief", "Cells × capacity × nominal voltage"),
    ),
    "energy_wh_l": (
        QT_TRANSLATE_NOOP("brief", "Energy per litre"),
        "Wh/l",
        None,
        10,
        False,
        0,
        1e6,
        QT_TRANSLATE_NOOP("brief", "any"),
        QT_TRANSLATE_NOOP("brief", "At least; per litre inside the wall"),
    ),
    "current_a": (
        QT_TRANSLATE_NOOP("brief", "Continuous current"),
        "A",
        0.0,
        1,
        False,
        0,
        1e6,
        None,
        QT_TRANSLATE_NOOP("brief", "What the module carries all the time"),
    ),
    "peak_a": (
        QT_TRANSLATE_NOOP("brief", "Peak current, 10 s"),
        "A",
        0.0,
        1,
        False,
        0,
        1e6,
        None,
        QT_TRANSLATE_NOOP("brief", "What the module carries for ten seconds"),
    ),
    "gap_mm": (
        QT_TRANSLATE_NOOP("brief", "Cell gap"),
        "mm",
        1.0,
        0.1,
        False,
        0,
        100,
        None,
        QT_TRANSLATE_NOOP("brief", "Can to can"),
    ),
    "wall_mm": (
        QT_TRANSLATE_NOOP("brief", "Wall clearance"),
        "mm",
        1.0,
        0.1,
        False,
        0,
        1000,
        None,
        QT_TRANSLATE_NOOP("brief", "Can to the housing's inner wall"),
    ),
    "keep_out_mm": (
        QT_TRANSLATE_NOOP("brief", "Keep-out clearance"),
        "mm",
        1.0,
        0.1,
        False,
        0,
        1000,
        None,
        QT_TRANSLATE_NOOP("brief", "Can to bosses and other keep-outs"),
    ),
}
CHAINS = (
    (None, QT_TRANSLATE_NOOP("brief", "Either")),
    ("straight", QT_TRANSLATE_NOOP("brief", "Straight")),
    ("folded", QT_TRANSLATE_NOOP("brief", "Folded")),
)


def make(kinds: Mapping[str, CellType], setter: Callable[[str], Request]) -> dict[str, Field]:
    """Return the fields by name; `setter` gives what one of them asks with."""
    fields: dict[str, Field] = {
        name: NumberField(
            translate("brief", label),
            unit,
            setter(name),
            step=step,
            is_whole=is_whole,
            none_text=none and translate("brief", none),
            tip=translate("brief", tip),
            follows_typing=True,
        )
        for name, (label, unit, _, step, is_whole, _, _, none, tip) in NUMBERS.items()
    }
    cells = [(id_, kind.name) for id_, kind in kinds.items()]
    fields["cell"] = ChoiceField(
        translate("brief", "Cell type"),
        cells,
        setter("cell"),
        tip=translate("brief", "Typical values by IEC size"),
    )
    tip = translate("brief", "Straight: terminals at opposite ends. Folded: terminals side by side")
    fields["name"] = TextField(
        translate("brief", "Name"),
        setter("name"),
        tip=translate("brief", "Name of the module, for files and drawings"),
    )
    fields["chain"] = ChoiceField(
        translate("brief", "Chain"),
        [(chain, translate("brief", words)) for chain, words in CHAINS],
        setter("chain"),
        tip=tip,
    )
    return fields


def require(name: str, value: Any) -> None:
    """Raise ValueOutOfRangeError where a number is none that the field may have; nothing at all always may be."""
    if name not in NUMBERS or value is None:
        return
    label, unit, _, _, is_whole, least, most, _, _ = NUMBERS[name]
    words = translate("brief", label)
    if is_whole:
        require_count(words, value, least=least, most=most)
    else:
        require_number(words, value, least=least, most=most, unit=unit)
