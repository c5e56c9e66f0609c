"""Workings: everything derived from one layout, computed on first use and reused while its parts are the same."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from layout_app.checks.findings import Finding
from layout_app.model.layouts import Layout
from layout_app.physics.figures import Figure, figures

if TYPE_CHECKING:
    from layout_app.physics.currents import Currents, NetworkModel
    from layout_app.physics.joint_faults import JointFaults
    from layout_app.physics.min_cuts import Cut
    from layout_app.plates.deriving import Plates
    from layout_app.plates.segments import Segment


class Workings:
    """What follows from a layout. Pass the workings of the layout it came from, and unchanged parts are reused.

    The metal and the checks are imported when first asked for: listing figures needs neither.
    """

    def __init__(self, layout: Layout, previous: Workings | None = None) -> None:
        self.layout = layout
        self._previous = previous  # let go as soon as it has lent what it can
        self._segment_findings: dict[Segment, tuple[Finding, ...]] = {}
        self._pair_findings: dict[tuple[Segment, Segment], tuple[Finding, ...]] = {}
        self.no_currents = ""  # why there are none, once they are asked for
        self.no_joint_faults = ""  # likewise

    @cached_property
    def plates(self) -> Plates:
        """The metal of both faces."""
        from layout_app.plates.deriving import Plates

        previous = self._previous
        return Plates(self.layout, previous.plates if previous is not None and "plates" in vars(previous) else None)

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        """Segments 0…S, in order."""
        return self.plates.segments

    @cached_property
    def layout_figures(self) -> tuple[Figure, ...]:
        """Every figure that needs neither metal nor currents."""
        return figures(self.layout)

    @cached_property
    def metal_figures(self) -> tuple[Figure, ...]:
        """Every figure that needs the metal but no currents."""
        from layout_app.physics.metal_figures import metal_figures

        return metal_figures(self.segments)

    @property
    def figures(self) -> tuple[Figure, ...]:
        """Every figure, in the order shown."""
        return self.layout_figures + self.metal_figures + self.current_figures

    @cached_property
    def metal_findings(self) -> tuple[Finding, ...]:
        """What the checks of cells, groups and metal have to say, errors first."""
        from layout_app.checks import rules
        from layout_app.checks.findings import gravest_first

        known = self._lender()
        found = list(rules.layout_findings(self.layout))
        for segment in self.segments:
            said = known._segment_findings.get(segment)
            self._segment_findings[segment] = rules.segment_findings(segment, self.layout) if said is None else said
        for one, other in rules.facing_pairs(self.segments, self.layout.plates.gap_mm):
            pair = self.segments[one], self.segments[other]
            said = known._pair_findings.get(pair)
            self._pair_findings[pair] = rules.pair_findings(*pair, self.layout) if said is None else said
        for group in (self._segment_findings, self._pair_findings):
            found += [finding for said in group.values() for finding in said]
        found += rules.module_findings(self.layout, self.segments)
        return gravest_first(found)

    # -- currents -----------------------------------------------------------------------------------------------

    @cached_property
    def network(self) -> NetworkModel:
        """The metal as links over its lands."""
        from layout_app.physics.currents import NetworkModel

        lender = self._previous
        while lender is not None and "network" not in vars(lender):  # dropped for a newer layout before it got there
            lender = lender._previous
        return NetworkModel(self.plates, previous=None if lender is None else lender.network)

    @cached_property
    def currents(self) -> Currents | None:
        """What flows at the design current, by the network; None when nothing can: `no_currents` says why."""
        from layout_app.model.errors import LayoutError

        try:
            return self.network.solve()
        except LayoutError as error:
            self.no_currents = str(error)
            return None

    @cached_property
    def necks(self) -> tuple[Cut | None, ...]:
        """Where the metal of each segment is narrowest for the current that crosses; None where none flows."""
        from layout_app.physics.min_cuts import module_cuts

        if self.currents is None:
            return (None,) * len(self.segments)
        lender = self._previous
        while lender is not None and "necks" not in vars(lender):
            lender = lender._previous
        known = {}
        if lender is not None and lender.currents is not None and lender.layout.joints == self.layout.joints:
            known = dict(zip(lender.segments, lender.necks, strict=True))
        return module_cuts(self.plates, self.currents, known, self.network.progress)

    @cached_property
    def joint_faults(self) -> JointFaults | None:
        """What the joints do under load and in faults; None when that cannot be told: `no_joint_faults` says why."""
        from layout_app.model.errors import LayoutError
        from layout_app.physics.joint_faults import joint_faults

        if self.currents is None:
            self.no_joint_faults = self.no_currents
            return None
        try:
            return joint_faults(self.layout, self.currents, self.necks)
        except LayoutError as error:
            self.no_joint_faults = str(error)
            return None

    @cached_property
    def current_figures(self) -> tuple[Figure, ...]:
        """Every figure that needs the currents."""
        from layout_app.physics.current_figures import current_figures
        from layout_app.physics.joint_figures import joint_figures

        if self.currents is None:
            return ()
        shared = current_figures(self.layout, self.currents, self.necks)
        return shared if self.joint_faults is None else shared + joint_figures(self.joint_faults)

    @cached_property
    def current_findings(self) -> tuple[Finding, ...]:
        """What the checks of currents and of bonds as fuses have to say."""
        from layout_app.checks import bonds, currents, rules

        if self.currents is None:
            return tuple(currents.no_currents(self.layout, self.no_currents))
        said = rules.current_findings(self.layout, self.currents, self.segments, self.joint_faults)
        if self.layout.design_current_a > 0:
            said += rules.neck_findings(self.layout, self.necks)
        return said if self.joint_faults is not None else (*said, *bonds.no_joint_faults(self.no_joint_faults))

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Everything the checks have to say, errors first."""
        from layout_app.checks.findings import gravest_first

        found = gravest_first(self.metal_findings + self.current_findings)
        self._previous = None
        return found

    def _lender(self) -> Workings:
        """Return the workings whose findings about a same segment still hold: the previous, or these, still empty."""
        previous = self._previous
        if previous is None or "metal_findings" not in vars(previous) or not previous.plates.ground.serves(self.layout):
            return self
        before, now = previous.layout, self.layout
        same = (before.limits, before.terminals, before.n_series) == (now.limits, now.terminals, now.n_series)
        return previous if same else self
