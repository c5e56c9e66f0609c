"""Override: what is different about one segment."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from layout_app.geometry.contours import Contour
from layout_app.model.housings import MAX_KEEP_OUTS, as_loop
from layout_app.model.materials import Material
from layout_app.model.plates import PlateSettings
from layout_app.model.validation import require_count


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentOverride:
    """Settings of one segment that replace those of the layout's plates; None and no keep-outs: as all others.

    `keep_outs` are further areas this segment keeps its setback from; contours run counter-clockwise.
    """

    segment: int
    material: Material | None = None
    thickness_mm: float | None = None
    setback_mm: float | None = None
    corner_radius_mm: float | None = None
    keep_outs: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        require_count("segment of an override", self.segment)
        require_count("number of keep-outs", len(self.keep_outs), most=MAX_KEEP_OUTS)
        loops = (as_loop(f"Keep-out {k} of segment {self.segment}", loop) for k, loop in enumerate(self.keep_outs, 1))
        object.__setattr__(self, "keep_outs", tuple(loops))

    @property
    def changes(self) -> dict[str, object]:
        """The plate settings it replaces."""
        names = [field.name for field in fields(self) if field.name not in ("segment", "keep_outs")]
        return {name: value for name in names if (value := getattr(self, name)) is not None}

    @property
    def is_empty(self) -> bool:
        """Whether it changes nothing."""
        return not self.changes and not self.keep_outs

    def of(self, plates: PlateSettings) -> PlateSettings:
        """Return the plate settings of its segment; raise where one of its values is out of range."""
        return replace(plates, **self.changes)  # type: ignore[arg-type]  # PlateSettings checks them
