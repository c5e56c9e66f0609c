"""Facts: what is known about the cell or segment that was chosen."""

from __future__ import annotations

from html import escape

import numpy as np
from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QLabel, QScrollArea

from layout_app.edits.settings import in_words
from layout_app.model.layouts import Layout
from layout_app.physics.current_figures import share_of_mean
from layout_app.physics.min_cuts import Cut
from layout_app.plates.segments import Segment
from layout_app.window.canvas import Canvas

translate = QCoreApplication.translate

Facts = list[tuple[str, str]]


class FactsPanel(QScrollArea):
    """A table of facts; tells what to do when nothing is chosen."""

    def __init__(self, canvas: Canvas) -> None:
        super().__init__()
        self._canvas = canvas
        self.label = QLabel(wordWrap=True)
        self.label.setTextFormat(Qt.TextFormat.RichText)
        self.label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.label.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.label.setContentsMargins(10, 8, 10, 8)
        self.setWidgetResizable(True)
        self.setFrameShape(QScrollArea.Shape.NoFrame)
        self.setWidget(self.label)
        canvas.choice_changed.connect(self.show_facts)
        canvas.document.derived_changed.connect(self.show_facts)
        self.show_facts()

    def show_facts(self) -> None:
        """Show the facts of what is chosen now."""
        canvas = self._canvas
        scene, cells = canvas.scene, sorted(canvas.chosen_cells)
        chosen = [segment for segment in scene.segments if segment.number == canvas.chosen_segment]
        if len(cells) == 1:
            title, facts = (
                translate("facts", "Cell {cells}").format(cells=cells[0] + 1),
                cell_facts(scene.layout, cells[0]) + self._current_facts(cells[0]),
            )
        elif cells:
            title, facts = (
                translate("facts", "{number} cells").format(number=len(cells)),
                cells_facts(scene.layout, cells),
            )
        elif chosen:
            neck = next((neck for neck in canvas.document.necks if neck and neck.segment == chosen[0].number), None)
            title, facts = segment_title(scene.layout, chosen[0].number), segment_facts(scene.layout, chosen[0], neck)
        else:
            self.label.setText(
                translate("facts", "Click a cell or the metal beside it to see its facts. Ctrl+click adds cells.")
            )
            return
        rows = "".join(
            f"<tr><td style='padding-right:14px'>{escape(name)}</td><td><b>{escape(value)}</b></td></tr>"
            for name, value in facts
        )
        self.label.setText(f"<p style='font-size:large'><b>{title}</b></p><table cellspacing='3'>{rows}</table>")

    def _current_facts(self, cell: int) -> Facts:
        """What a cell carries, once the currents of the layout shown are worked out."""
        document = self._canvas.document
        layout, found = document.layout, document.currents
        if found is None or document.currents_of is not layout or not layout.cells.groups[cell]:
            return []
        current_a = found.solved.cell_current_a
        words = translate("facts", "{current:.3g} A of the module's {module:g} A, {share:.3f} × its group's mean")
        share = share_of_mean(layout, current_a)[cell]
        told = words.format(current=current_a[cell], module=found.solved.current_a, share=share)
        return [(translate("facts", "Current"), told)]


def cell_facts(layout: Layout, cell: int) -> Facts:
    """Return what is known about a cell, given by index."""
    x, y = layout.cells.centres_mm[cell].tolist()
    group, is_up = int(layout.cells.groups[cell]), bool(layout.positive_up[cell])
    locked = (
        [(translate("facts", "Locked"), translate("facts", "keeps place and group"))]
        if layout.cells.locked[cell]
        else []
    )
    facts = [
        (translate("facts", "Group"), str(group) if group else translate("facts", "none yet")),
        (translate("facts", "Positive end"), "up" if is_up else "down"),
        (translate("facts", "Segments"), segments_text(layout, group)),
        (translate("facts", "Centre"), translate("facts", "x {x:.2f}, y {y:.2f} mm").format(x=x, y=y)),
        *locked,
    ]
    gap = nearest_gap_mm(layout, cell)
    return facts + (
        []
        if gap is None
        else [(translate("facts", "Nearest cell"), translate("facts", "{gap:.2f} mm away, can to can").format(gap=gap))]
    )


def cells_facts(layout: Layout, cells: list[int]) -> Facts:
    """Return what is known about several cells."""
    groups, counts = np.unique(layout.cells.groups[cells], return_counts=True)
    said = ", ".join(
        translate("facts", "{n} in group {g}").format(n=n, g=g) if g else translate("facts", "{n} in none").format(n=n)
        for g, n in zip(groups, counts, strict=True)
    )
    n_locked = int(np.count_nonzero(layout.cells.locked[cells]))
    locked = (
        [
            (
                translate("facts", "Locked"),
                "all"
                if n_locked == len(cells)
                else translate("facts", "{n_locked} of {number}").format(n_locked=n_locked, number=len(cells)),
            )
        ]
        if n_locked
        else []
    )
    return [(translate("facts", "Groups"), said), *locked]


def segment_title(layout: Layout, number: int) -> str:
    """Return what a segment is called: by its number, and as a terminal where it is one."""
    sign = {
        0: translate("facts", ", negative terminal"),
        layout.n_segments - 1: translate("facts", ", positive terminal"),
    }
    return translate("facts", "Segment {number}{get}").format(number=number, get=sign.get(number, ""))


def segment_facts(layout: Layout, segment: Segment, neck: Cut | None) -> Facts:
    """Return what is known about a segment and its neck."""
    last = layout.n_segments - 1
    joins = {
        0: translate("facts", "the negative terminal to group 1"),
        last: translate("facts", "group {last} to the positive terminal").format(last=last),
    }
    n_plus = int(segment.is_positive_end.sum())
    return [
        (
            translate("facts", "Joins"),
            joins.get(
                segment.number,
                translate("facts", "group {number} to group {next}").format(
                    number=segment.number, next=segment.number + 1
                ),
            ),
        ),
        (translate("facts", "Face"), segment.face),
        (
            translate("facts", "Windows"),
            translate("facts", "{n_plus} over +, {windows_mm} over −").format(
                n_plus=n_plus, windows_mm=len(segment.windows_mm) - n_plus
            ),
        ),
        (translate("facts", "Area"), translate("facts", "{area_mm2:.0f} mm²").format(area_mm2=segment.area_mm2)),
        (translate("facts", "Mass"), f"{segment.mass_g:.2f} g"),
        (translate("facts", "Perimeter"), f"{segment.perimeter_mm:.1f} mm"),
        (translate("facts", "Cut length"), f"{segment.cut_length_mm:.1f} mm"),
        (translate("facts", "Sheet"), f"{segment.thickness_mm:g} mm {segment.material.name}"),
        *([] if neck is None else _neck_facts(layout, neck)),
        *(
            [(translate("facts", "Unlike the others"), override_text(layout, segment.number))]
            if layout.override_of(segment.number)
            else []
        ),
        *(
            [
                (
                    translate("facts", "Pieces"),
                    translate("facts", "{number}: it is split").format(number=len(segment.pieces)),
                )
            ]
            if len(segment.pieces) > 1
            else []
        ),
    ]


def override_text(layout: Layout, segment: int) -> str:
    """Return what is different about a segment, in words; nothing when it is as all others."""
    override = layout.override_of(segment)
    if override is None:
        return ""
    words = [in_words({name: value}) for name, value in override.changes.items()]
    return ", ".join(
        words
        + (
            [translate("facts", "{number} keep-out of its own").format(number=len(override.keep_outs))]
            if override.keep_outs
            else []
        )
    )


def _neck_facts(layout: Layout, neck: Cut) -> Facts:
    width = (translate("facts", "Neck"), f"{neck.width_mm:.1f} mm")
    if layout.design_current_a <= 0:
        return [width]
    plates = layout.plates_of(neck.segment)
    low, high = plates.material.current_density_a_mm2
    return [
        width,
        (
            translate("facts", "Current there"),
            translate("facts", "{current:.3g} A, {density:.2f} A/mm² (common practice {low:g} to {high:g})").format(
                current=abs(neck.current_a), density=neck.density_a_mm2, low=low, high=high
            ),
        ),
    ]


def segments_text(layout: Layout, group: int) -> str:
    """Return the segments a cell of a group is joined to."""
    if not group:
        return "none"
    return translate("facts", "{low} at −, {high} at +").format(low=group - 1, high=group)


def nearest_gap_mm(layout: Layout, cell: int) -> float | None:
    """Return the clear distance from a cell's can to the nearest other can, mm, or None for a lone cell."""
    if len(layout.cells) < 2:
        return None
    distance = np.hypot(*(layout.cells.centres_mm - layout.cells.centres_mm[cell]).T)
    distance[cell] = np.inf
    return float(distance.min()) - layout.cell_type.diameter_mm
