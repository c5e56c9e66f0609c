"""Trial: a layout as far as its currents need it, made from another with as little work as can be.

What a segment conducts goes with thickness over resistivity and nothing else of its sheet. So a trial keeps apart the
shape of the metal, which workings derive and lend, and the sheet, which only scales it: other sheet costs one solve.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.overrides import SegmentOverride
from layout_app.workings import Workings

if TYPE_CHECKING:
    from layout_app.physics.currents import Currents
    from layout_app.physics.module import CellCondition, Metal
    from layout_app.plates.segments import Segment


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A layout, its segments and what they conduct.

    Attributes
    ----------
    layout : with its own sheet
    shape : workings that lend their metal, of the same layout but perhaps of other sheet or another positive terminal
    segments : of the layout, 0…S
    metals : what each of them does between its contacts
    """

    layout: Layout
    shape: Workings
    segments: tuple[Segment, ...]
    metals: tuple[Metal, ...]

    @classmethod
    def of(cls, workings: Workings) -> Trial:
        """Return the trial of a layout as it is.

        Raises
        ------
        LayoutError : segments without metal
        """
        return _of_sheet(workings.layout, workings)

    def changed(self, layout: Layout) -> Trial:
        """Return the trial of another layout; what is the same in both is not made again.

        Raises
        ------
        LayoutError : segments without metal
        """
        plain = _with_sheet_of(self.shape.layout, layout)
        return _of_sheet(layout, self.shape if plain == self.shape.layout else Workings(plain, self.shape))

    def ending_as(self, other: Trial, layout: Layout) -> Trial:
        """Return the trial of a layout whose positive terminal is as in another trial, all else as in this one.

        A terminal shapes its own segment alone, and the first is never the last: nothing is made anew.
        """
        segments = (*self.segments[:-1], other.segments[-1])
        return Trial(layout, self.shape, segments, (*self.metals[:-1], other.metals[-1]))

    def solve(self, current_a: float | None = None, conditions: Sequence[CellCondition] = ()) -> Currents:
        """Return the currents, by the network; as `NetworkModel.solve`, but for no current at all."""
        from layout_app.physics.currents import current_of, told
        from layout_app.physics.module import branches_of, solve_module

        current = current_of(self.layout, current_a)
        if current == 0:
            raise LayoutError("How cells share a current needs one: give a module current other than 0 A.")
        branches = branches_of(self.layout, self.layout.joints, conditions)
        return told("network", solve_module(self.layout, self.segments, self.metals, branches, current), branches, {})

    @property
    def metal_mass_g(self) -> float:
        """Mass of all segments, g."""
        return sum(segment.mass_g for segment in self.segments)


def _of_sheet(layout: Layout, shape: Workings) -> Trial:
    """Return a layout's trial from workings that differ from it in sheet alone."""
    made = [_in_sheet(layout, *pair) for pair in zip(shape.segments, shape.network.metals, strict=True)]
    return Trial(layout, shape, tuple(segment for segment, _ in made), tuple(metal for _, metal in made))


def _in_sheet(layout: Layout, segment: Segment, metal: Metal) -> tuple[Segment, Metal]:
    plates = layout.plates_of(segment.number)
    if (plates.material, plates.thickness_mm) == (segment.material, segment.thickness_mm):
        return segment, metal
    better = plates.thickness_mm / segment.thickness_mm
    better *= segment.material.resistivity_ohm_m / plates.material.resistivity_ohm_m
    return (
        replace(segment, material=plates.material, thickness_mm=plates.thickness_mm),
        replace(metal, conductance_s=metal.conductance_s * better),
    )


def _with_sheet_of(model: Layout, layout: Layout) -> Layout:
    """Return a layout with the materials and thicknesses of another."""
    plates = replace(layout.plates, material=model.plates.material, thickness_mm=model.plates.thickness_mm)
    numbers = sorted({override.segment for each in (model, layout) for override in each.overrides})
    mixed = (_mixed(k, model.override_of(k), layout.override_of(k)) for k in numbers if k <= layout.n_series)
    return replace(layout, plates=plates, overrides=tuple(each for each in mixed if not each.is_empty))


def _mixed(number: int, sheet: SegmentOverride | None, shape: SegmentOverride | None) -> SegmentOverride:
    mixed = shape or SegmentOverride(segment=number)
    if sheet is None:
        return replace(mixed, material=None, thickness_mm=None)
    return replace(mixed, material=sheet.material, thickness_mm=sheet.thickness_mm)
