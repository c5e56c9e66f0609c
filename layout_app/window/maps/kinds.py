"""Kinds of maps: what each shows, in which unit, and how its range is found when nobody sets one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QCoreApplication

translate = QCoreApplication.translate
MapName = Literal["none", "share", "joint_loss", "potential", "density", "loss"]
ModelName = Literal["network", "sheet"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of map.

    Attributes
    ----------
    unit : of the values as they are shown
    colours : name of the colour map
    is_of_cells : on the cells; else on the metal, which takes the sheet model
    power : how values grow with the module's current: they are made for one current and shown for any
    middle : what the middle of a diverging map stands for
    least_spread : the narrowest automatic range, as a share of the value: less than that must not look like much
    """

    name: MapName
    unit: str
    colours: str
    is_of_cells: bool
    power: int
    middle: float | None = None
    least_spread: float = 1e-3  # narrower would show rounding

    @property
    def words(self) -> str:
        """What the map is called, in the user's language."""
        return {
            "share": translate("Maps", "Cell current, share of its group's mean"),
            "joint_loss": translate("Maps", "Loss in each joint"),
            "potential": translate("Maps", "Potential in the sheet, about its segment's mean"),
            "density": translate("Maps", "Current density in the sheet"),
            "loss": translate("Maps", "Loss density in the sheet"),
        }[self.name]

    @property
    def brief(self) -> str:
        """The same in two words."""
        return {
            "share": translate("Maps", "Cell current"),
            "joint_loss": translate("Maps", "Joint loss"),
            "potential": translate("Maps", "Sheet potential"),
            "density": translate("Maps", "Current density"),
            "loss": translate("Maps", "Loss density"),
        }[self.name]


# Cells of one kind differ by some per cent anyway (common practice, no source): full colour for less would cry wolf.
# A loss grows with the square of a current, and its range has two sides: four times that.
ALIKE = 0.05

# A share of the mean does not change with the current; potentials about a mean grow with it, losses with its square.
KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("share", "× mean", "diverging", True, 0, middle=1.0, least_spread=ALIKE),
        Kind("joint_loss", "mW", "sequential", True, 2, least_spread=4 * ALIKE),
        Kind("potential", "mV", "diverging", False, 1, middle=0.0),
        Kind("density", "A/mm²", "sequential", False, 1),
        Kind("loss", "mW/cm²", "sequential", False, 2),
    )
}
