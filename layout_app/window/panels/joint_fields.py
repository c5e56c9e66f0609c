"""Joint fields: how the cells are joined to the metal; only the fields that the kind of joint uses are shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QCoreApplication

from layout_app.edits import ChangeJoints
from layout_app.model.catalogues import wire_metals
from layout_app.model.layouts import Layout
from layout_app.window.panels.fields import Field

translate = QCoreApplication.translate
FIRST_WELD_OHM = 2e-4  # a laser weld of a tongue: common practice, no source
PER_MILLI = 1e3


class JointFields:
    """Makes the fields, and shows those of wires or those of tongues.

    Parameters
    ----------
    number, choice : make a field that shows what `read` finds in a layout and asks for the edit that `make` gives
    """

    def __init__(self, layout: Layout, number: Callable[..., Field], choice: Callable[..., Field]) -> None:
        self._number, self._choice = number, choice
        self.kind = self._kind()
        self.of_wires = self._of_wires(layout)
        self.of_tongues = self._of_tongues()
        self.of_fuses = self._of_fuses()

    def all(self) -> list[Field]:
        """Return the fields in the order shown."""
        return [self.kind, *self.of_wires, *self.of_tongues, *self.of_fuses]

    def show(self, layout: Layout) -> None:
        """Show only what the layout's kind of joint uses."""
        has_wires = layout.joints.weld_ohm is None
        for field in self.of_wires:
            field.setVisible(has_wires)
        for field in self.of_tongues:
            field.setVisible(not has_wires)

    def _kind(self) -> Field:
        kinds = ((True, translate("Joints", "Bond wires")), (False, translate("Joints", "Welded tongues")))

        def make(has_wires: bool) -> ChangeJoints:
            return ChangeJoints({"weld_ohm": None if has_wires else FIRST_WELD_OHM})

        return self._choice(
            translate("Joints", "Joined by"), kinds, lambda layout: layout.joints.weld_ohm is None, make,
            tip=translate("Joints", "Wires from each cell to the sheet, or strips cut free in it and welded down"),
        )  # fmt: skip

    def _of_wires(self, layout: Layout) -> list[Field]:
        known = wire_metals()
        known.setdefault(layout.joints.wire_metal.id, layout.joints.wire_metal)
        metal = self._choice(
            translate("Joints", "Wire metal"), [(id_, kind.name) for id_, kind in known.items()],
            lambda layout: layout.joints.wire_metal.id, lambda id_: ChangeJoints({"wire_metal": known[id_]}),
            tip=translate("Joints", "What the wires are drawn from; its values are those of the catalogue"),
        )  # fmt: skip
        return [
            metal,
            self._plain(translate("Joints", "Wire diameter"), "mm", "wire_diameter_mm", step=0.05,
                        tip=translate("Joints", "Of one wire")),
            self._plain(translate("Joints", "Wire length"), "mm", "wire_length_mm", step=0.5,
                        tip=translate("Joints", "Of the wire itself from foot to foot, its loop included")),
            self._plain(translate("Joints", "Wires in a joint"), "", "n_wires", is_whole=True, step=1,
                        tip=translate("Joints", "Side by side on every terminal of a cell")),
            self._plain(translate("Joints", "Foot resistance"), "mΩ", "foot_ohm", step=0.01,
                        tip=translate("Joints", "From wire to metal, at each of a wire's two feet")),
        ]  # fmt: skip

    def _of_tongues(self) -> list[Field]:
        return [
            self._plain(translate("Joints", "Weld resistance"), "mΩ", "weld_ohm", step=0.05,
                        tip=translate("Joints", "From the sheet through tongue and weld to the cell's terminal")),
            self._plain(translate("Joints", "Tongue width"), "mm", "weld_width_mm", step=0.5,
                        tip=translate("Joints", "Of the strip, at its neck")),
            self._plain(translate("Joints", "Tongue length"), "mm", "neck_length_mm", step=0.5,
                        tip=translate("Joints", "Of the strip, from the sheet to its weld")),
        ]  # fmt: skip

    def _of_fuses(self) -> list[Field]:
        return [
            self._plain(translate("Joints", "Busbar temperature"), "°C", "busbar_c", step=5.0,
                        tip=translate("Joints", "Of the metal at both ends of a bond, when it is looked at as a fuse")),
            self._plain(translate("Joints", "Side loss"), "W/m²K", "side_loss_w_m2k", step=10.0,
                        tip=translate("Joints", "Heat a bond gives off by its side; 0 leaves all to its ends")),
        ]  # fmt: skip

    def _plain(self, label: str, unit: str, field: str, **options: Any) -> Field:
        """Return a field of the joint settings; resistances are shown in milliohms."""
        is_ohm = field.endswith("_ohm")

        def read(layout: Layout) -> float | None:
            value = getattr(layout.joints, field)
            return value * PER_MILLI if is_ohm and value is not None else value

        def make(value: float) -> ChangeJoints:
            return ChangeJoints({field: value / PER_MILLI if is_ohm else value})

        return self._number(label, unit, read, make, **options)
