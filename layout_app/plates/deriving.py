"""Deriving: all segments of a layout, made anew only where the layout changed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from layout_app.geometry.arrays import BoolArray, IntArray, PointArray
from layout_app.geometry.clearing import Clearing, cleared
from layout_app.geometry.regions import Region
from layout_app.geometry.territories import Territories, territories
from layout_app.model.layouts import Layout
from layout_app.model.overrides import SegmentOverride
from layout_app.model.plates import Face, Terminal
from layout_app.plates.bare_sites import bare_sites_mm
from layout_app.plates.borders import Straightening
from layout_app.plates.outlines import Plot, outline_pieces, territory
from layout_app.plates.segments import Segment
from layout_app.plates.tabs import Tab, place_tabs
from layout_app.plates.walls import Wall
from layout_app.plates.windows import (
    positive_ends,
    segment_of_cells,
    window_radii_mm,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable


BARE = -2  # owns the territories of bare sites; -1 owns those of unassigned cells


@dataclass(frozen=True, eq=False)
class Ground:
    """What segments stand on: depends on where the cells are and on the housing, not on the groups."""

    layout: Layout

    @cached_property
    def bare_sites_mm(self) -> PointArray:
        """(b, 2): the empty sites the metal leaves alone."""
        return bare_sites_mm(self.layout)

    @cached_property
    def grounds(self) -> Territories:
        """The territories of the cells, and after them those of the bare sites."""
        return territories(np.vstack([self.layout.cells.centres_mm, self.bare_sites_mm]))

    @cached_property
    def clearing(self) -> Clearing:
        """Where metal may lie."""
        housing = self.layout.housing
        return cleared(housing.outline, housing.keep_outs, self.layout.plates.setback_mm)

    def clearing_of(self, override: SegmentOverride | None) -> Clearing:
        """Where the metal of a segment may lie."""
        if override is None or (override.setback_mm is None and not override.keep_outs):
            return self.clearing
        housing, plates = self.layout.housing, override.of(self.layout.plates)
        return cleared(housing.outline, (*housing.keep_outs, *override.keep_outs), plates.setback_mm)

    @cached_property
    def is_far_corner(self) -> BoolArray:
        """(c,): which corners of territories lie more than a pitch outside the housing, where no border needs care."""
        x_min, y_min, x_max, y_max = self.layout.housing.outline.bounds_mm
        pitch_mm, (x, y) = self.layout.lattice.pitch_mm, self.grounds.corners_mm.T
        outside_mm = np.max([x_min - x, x - x_max, y_min - y, y - y_max], axis=0)
        return np.asarray(outside_mm > pitch_mm)

    @cached_property
    def wall(self) -> Wall:
        """The housing's wall and what stands along it: cells, and after them bare sites."""
        return Wall.of(self.layout.housing.outline, np.vstack([self.layout.cells.centres_mm, self.bare_sites_mm]))

    def serves(self, layout: Layout) -> bool:
        """Whether it holds for another layout as well."""
        mine = self.layout
        return (
            mine.housing is layout.housing
            and mine.cells.centres_mm is layout.cells.centres_mm
            and mine.plates == layout.plates
            and mine.cell_type == layout.cell_type
            and mine.lattice == layout.lattice
        )


class Plates:
    """The segments of both faces. `previous` lends every segment that is the same in both layouts."""

    def __init__(self, layout: Layout, previous: Plates | None = None) -> None:
        self.layout = layout
        if previous is not None and not previous.ground.serves(layout):
            previous = None
        self.ground: Ground = Ground(layout) if previous is None else previous.ground
        self._known: dict[Hashable, Segment] = {} if previous is None else dict(previous._made)
        self._made: dict[Hashable, Segment] = {}
        self.progress: Callable[[float], None] | None = None  # called with the share done; what it raises ends the work

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        """Segments 0…S in order; without pieces where no cell is under them, or where both contacts are on one end."""
        layout, nothing = self.layout, np.empty(0, dtype=np.int64)
        if not layout.cell_type.has_opposite_contacts or len(layout.cells) == 0:
            return tuple(_segment(layout, k, (), nothing, layout.positive_up, ()) for k in range(layout.n_segments))
        makers: dict[Face, _FaceMaker] = {"top": _FaceMaker(self, "top"), "bottom": _FaceMaker(self, "bottom")}
        segments = []
        for k in range(layout.n_segments):
            segments.append(makers[layout.face_of(k)].segment(k))
            if self.progress is not None:
                self.progress((k + 1) / layout.n_segments)
        self._known = {}
        return tuple(segments)

    def tabs(self, number: int, cells: IntArray) -> tuple[Tab, ...]:
        """Return the tabs of segment `number`, which lies over `cells`; none for one that is no terminal."""
        terminal = self.terminal(number)
        if terminal is None:
            return ()
        housing, setback_mm = self.layout.housing, self.layout.plates_of(number).setback_mm
        return place_tabs(terminal, self.ground.wall, housing, setback_mm, cells)

    def terminal(self, number: int) -> Terminal | None:
        """Return the terminal on segment `number`, if it has one."""
        negative, positive = self.layout.terminals
        return {0: negative, self.layout.n_series: positive}.get(number)

    def recall(self, key: Hashable) -> Segment | None:
        """Return the segment made for the same cells before, if there is one."""
        segment = self._known.get(key)
        if segment is not None:
            self._made[key] = segment
        return segment

    def keep(self, key: Hashable, segment: Segment) -> Segment:
        """Remember a segment for the layouts that follow."""
        self._made[key] = segment
        return segment


class _FaceMaker:
    """Makes the segments of one face."""

    def __init__(self, plates: Plates, face: Face) -> None:
        self.plates, self.layout, self.face = plates, plates.layout, face
        of_cells = segment_of_cells(self.layout, face)
        self.is_positive = positive_ends(self.layout, face)
        order = np.argsort(of_cells, kind="stable")
        numbers, first = np.unique(of_cells[order], return_index=True)
        self.members = dict(zip(numbers.tolist(), np.split(order, first[1:]), strict=True))
        owners = np.append(of_cells, np.full(len(plates.ground.bare_sites_mm), BARE))
        self.edges = plates.ground.grounds.borders(owners)
        radii_mm = [override.corner_radius_mm for override in self.layout.overrides]
        self.least_radius_mm = min([self.layout.plates.corner_radius_mm, *(r for r in radii_mm if r is not None)])
        self.rules = self._straightening(owners) if self.layout.plates.borders == "straight" else None

    def segment(self, number: int) -> Segment:
        """Return segment `number`, from memory if nothing it is made from changed."""
        cells = self.members.get(number)
        if cells is None:
            return _segment(self.layout, number, (), np.empty(0, dtype=np.int64), self.is_positive, ())
        fixed = b"" if self.rules is None else self.rules.is_fixed[self.edges[number]].tobytes()
        override = self.layout.override_of(number)
        key = (
            number,
            cells.tobytes(),
            self.is_positive[cells].tobytes(),
            self.plates.terminal(number),
            fixed,
            override,
            self.least_radius_mm,
        )
        return self.plates.recall(key) or self.plates.keep(key, self._made(number, cells))

    def _straightening(self, owners: IntArray) -> Straightening:
        plates = self.layout.plates
        bare_sites = self.plates.ground.bare_sites_mm
        reach_mm = window_radii_mm(self.layout, self.is_positive) + plates.min_web_mm + plates.gap_mm / 2
        return Straightening(
            cells_mm=np.vstack([self.layout.cells.centres_mm, bare_sites]),
            reach_mm=np.append(reach_mm, np.zeros(len(bare_sites))),
            is_fixed=self.plates.ground.grounds.meeting_corners(owners) | self.plates.ground.is_far_corner,
        )

    def _made(self, number: int, cells: IntArray) -> Segment:
        layout, ground = self.layout, self.plates.ground
        tabs, override = self.plates.tabs(number, cells), layout.override_of(number)
        plot = Plot(
            area=territory(ground.grounds, ground.grounds.walks(self.edges[number]), self.rules),
            clearing=ground.clearing_of(override),
            gap_mm=layout.plates.gap_mm,
            radius_mm=layout.plates_of(number).corner_radius_mm,
            least_radius_mm=self.least_radius_mm,
        )
        pieces = outline_pieces(plot, tabs, layout.cells.centres_mm[cells])
        return _segment(layout, number, pieces, cells, self.is_positive, tabs)


def _segment(
    layout: Layout, number: int, pieces: tuple[Region, ...], cells: IntArray, positive: BoolArray, tabs: tuple[Tab, ...]
) -> Segment:
    is_positive, plates = positive[cells], layout.plates_of(number)
    holes = tuple(tab.bolt_hole_mm for tab in tabs) if pieces else ()
    return Segment(
        number=number,
        face=layout.face_of(number),
        pieces=pieces,
        windows_mm=np.column_stack([layout.cells.centres_mm[cells], window_radii_mm(layout, is_positive)]),
        window_cells=cells,
        is_positive_end=is_positive,
        bolt_hole_mm=holes[0] if holes else None,
        more_bolt_holes_mm=holes[1:],
        material=plates.material,
        thickness_mm=plates.thickness_mm,
    )
