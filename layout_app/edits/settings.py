"""Edits of single choices: metal, terminals, limits, and what the module is asked to do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from layout_app.model.layouts import Layout
from layout_app.model.limits import Limits

# How the Edit menu calls each field; the model's own names carry units and are for code.
FIELD_WORDS = {
    "material": "material", "thickness_mm": "sheet thickness", "gap_mm": "insulation gap", "setback_mm": "setback",
    "corner_radius_mm": "corner radius", "min_web_mm": "least web", "shoulder_clearance_mm": "shoulder clearance",
    "positive_window_mm": "positive window", "negative_window_mm": "negative window", "borders": "borders",
    "near_mm": "place", "width_mm": "tab width", "length_mm": "tab length", "bolt": "bolt", "place": "tab place",
    "more_near_mm": "further tabs",
    "name": "name", "notes": "notes", "design_current_a": "continuous current", "peak_current_a": "peak current",
    "wire_metal": "wire metal", "wire_diameter_mm": "wire diameter", "wire_length_mm": "wire length",
    "n_wires": "number of wires", "foot_ohm": "foot resistance", "weld_ohm": "weld resistance",
    "weld_width_mm": "tongue width", "neck_length_mm": "tongue length", "busbar_c": "busbar temperature",
    "side_loss_w_m2k": "side loss of bonds",
    **Limits.WORDS,
}  # fmt: skip


def in_words(changes: Mapping[str, Any]) -> str:
    """Return the changed fields as the Edit menu names them.

    >>> in_words({"gap_mm": 2.0, "setback_mm": 1.0})
    'insulation gap and setback'
    """
    return " and ".join(FIELD_WORDS.get(field, field) for field in changes)


@dataclass(frozen=True, slots=True)
class ChangePlates:
    """Give fields of the plate settings other values, e.g. {"gap_mm": 2.0}."""

    changes: Mapping[str, Any]

    @property
    def label(self) -> str:
        """E.g. "Change insulation gap"."""
        return f"Change {in_words(self.changes)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the changed plate settings."""
        plates = replace(layout.plates, **self.changes)
        return layout if plates == layout.plates else replace(layout, plates=plates)


@dataclass(frozen=True, slots=True)
class ChangeJoints:
    """Give fields of the joint settings other values, e.g. {"n_wires": 1}."""

    changes: Mapping[str, Any]

    @property
    def label(self) -> str:
        """E.g. "Change wire diameter"."""
        return f"Change {in_words(self.changes)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the changed joints."""
        joints = replace(layout.joints, **self.changes)
        return layout if joints == layout.joints else replace(layout, joints=joints)


@dataclass(frozen=True, slots=True)
class ChangeTerminal:
    """Give fields of one terminal other values; `is_positive` says which terminal."""

    is_positive: bool
    changes: Mapping[str, Any]

    @property
    def label(self) -> str:
        """E.g. "Change positive terminal's bolt"."""
        return f"Change {'positive' if self.is_positive else 'negative'} terminal's {in_words(self.changes)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the changed terminal."""
        negative, positive = layout.terminals
        if self.is_positive:
            terminals = (negative, replace(positive, **self.changes))
        else:
            terminals = (replace(negative, **self.changes), positive)
        return layout if terminals == layout.terminals else replace(layout, terminals=terminals)


@dataclass(frozen=True, slots=True)
class ChangeBrief:
    """Change the name, the notes or the currents of the module."""

    changes: Mapping[str, Any]

    @property
    def label(self) -> str:
        """E.g. "Change continuous current"."""
        return f"Change {in_words(self.changes)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the changed brief."""
        if all(getattr(layout, field) == value for field, value in self.changes.items()):
            return layout
        return replace(layout, **self.changes)


@dataclass(frozen=True, slots=True)
class ChangeLimits:
    """Change what the checks hold the layout to."""

    changes: Mapping[str, Any]

    @property
    def label(self) -> str:
        """E.g. "Change touch voltage limit"."""
        return f"Change {in_words(self.changes)}"

    def apply(self, layout: Layout) -> Layout:
        """Return the layout with the changed limits."""
        limits = replace(layout.limits, **self.changes)
        return layout if limits == layout.limits else replace(layout, limits=limits)
