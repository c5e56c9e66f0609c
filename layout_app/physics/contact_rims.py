"""Contact rims: where current enters and leaves the metal along the edge of each contact, in order.

Where a strong current passes, it flows into a foot on one side and out again on the other: the foot shorts the metal
under it. Such current is led under the foot along both flanks, and the joint's own between them, so that lines of equal
current neither begin nor end where none does, and do not cross. Of two feet of one joint one may even take up more than
it gives; that current is led on to the other. A contact that breaks the metal's edge, a terminal or a
tongue's root, has no metal under it to lead anything through: there all that arrives ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from layout_app.geometry.arrays import BoolArray, FloatArray, IntArray
from layout_app.geometry.meshes import Mesh
from layout_app.physics.edge_flows import EdgeFlows


@dataclass(frozen=True, eq=False)
class ContactRims:
    """The edges of a mesh along contacts, in stretches that hang together, each in order round its contact.

    Attributes
    ----------
    side : (b,) int array, 3 × triangle + side of each edge
    stretch : (b,) int array, ascending
    enters_a, leaves_a : (b,) float arrays, the current into the metal, and out of it, by each edge; one of them is 0
    entered_a, left_a : (b,) float arrays, the same summed over the edges before it, all stretches one after another
    contact : (s,) int array, the contact of each stretch, ascending
    is_closed : (s,) bool array, whether it runs all round a contact
    place : (3 t,) int array, the row here of each side of the mesh, -1 for none
    """

    side: IntArray
    stretch: IntArray
    enters_a: FloatArray
    leaves_a: FloatArray
    entered_a: FloatArray
    left_a: FloatArray
    contact: IntArray
    is_closed: BoolArray
    place: IntArray

    @cached_property
    def _first(self) -> IntArray:
        """(s,): the first row of each stretch."""
        return np.searchsorted(self.stretch, np.arange(len(self.contact)))

    @cached_property
    def _first_of_contact(self) -> IntArray:
        """(s,): the first stretch of each stretch's contact."""
        return np.searchsorted(self.contact, self.contact)

    @cached_property
    def _entries(self) -> tuple[IntArray, FloatArray]:
        """The rows where current enters the metal, and `entered_a` of them."""
        rows = np.flatnonzero(self.enters_a > 0)
        return rows, self.entered_a[rows]

    @cached_property
    def _totals_a(self) -> tuple[FloatArray, FloatArray]:
        """(s,) twice: all that enters by each stretch, and all that leaves."""
        n = len(self.contact)
        return (
            np.bincount(self.stretch, weights=self.enters_a, minlength=n).astype(np.float64),
            np.bincount(self.stretch, weights=self.leaves_a, minlength=n).astype(np.float64),
        )

    @cached_property
    def _passing_a(self) -> FloatArray:
        """(s,): the current that passes under each stretch."""
        return np.where(self.is_closed, np.minimum(*self._totals_a), 0.0)

    @cached_property
    def _rests_a(self) -> tuple[FloatArray, FloatArray]:
        """(s,) twice: the current that begins at each stretch, and that which ends; the less of both is 0."""
        entering, leaving = self._totals_a
        begins, ends = entering - self._passing_a, leaving - self._passing_a
        return np.where(entering > leaving, begins, 0.0), np.where(entering > leaving, 0.0, ends)

    @cached_property
    def _carried_a(self) -> FloatArray:
        """(c,): the current that one foot of a contact takes up and another gives back."""
        begins, ends = (self._of_contacts(rest) for rest in self._rests_a)
        is_whole = np.bincount(self.contact, weights=~self.is_closed) == 0
        return np.where(is_whole, np.minimum(begins, ends), 0.0)

    def _of_contacts(self, flow_a: FloatArray) -> FloatArray:
        """Return (c,) the sums over each contact's stretches."""
        return np.bincount(self.contact, weights=flow_a).astype(np.float64)

    def entry(self, at_a: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return the side and the share along it where given currents, counted as `entered_a`, enter."""
        rows, begin_a = self._entries
        row = rows[np.clip(np.searchsorted(begin_a, at_a, side="right") - 1, 0, len(rows) - 1)]
        return self.side[row], np.clip((at_a - self.entered_a[row]) / self.enters_a[row], 0.0, 1.0)

    def spread(self, contacts: IntArray) -> FloatArray:
        """Return where lines begin, counted as `entered_a`, that share evenly the current which is each contact's own.

        `contacts`, (l,) ascending, holds the contact of each line.
        """
        begins_a = self._of_contacts(self._rests_a[0])[contacts]
        carried_a = self._carried_a[contacts]
        number = np.arange(len(contacts)) - np.searchsorted(contacts, contacts)
        share = (number + 0.5) / np.bincount(contacts)[contacts]
        return self._begun(contacts, carried_a / 2 + share * (begins_a - carried_a))

    def _begun(self, contacts: IntArray, at_a: FloatArray) -> FloatArray:
        """Return, counted as `entered_a`, where currents begin that are counted over what begins at each contact."""
        begins_a = self._rests_a[0]
        up_to = np.cumsum(begins_a)
        at = at_a + (up_to - begins_a)[np.searchsorted(self.contact, contacts)]
        stretch = np.minimum(np.searchsorted(up_to, at), np.searchsorted(self.contact, contacts, side="right") - 1)
        within = np.clip(at - (up_to - begins_a)[stretch], 0.0, begins_a[stretch])
        return np.asarray(self.entered_a[self._first[stretch]] + self._passing_a[stretch] / 2 + within)

    def passed_on(self, side: IntArray, share: FloatArray) -> tuple[BoolArray, FloatArray]:
        """Return for lines that arrive at sides, at a share along them, whether each goes on, under the contact or from
        another of its feet, and where it enters again, counted as `entered_a`."""
        row = self.place[side]
        stretch = self.stretch[row]
        entering, leaving = (total[stretch] for total in self._totals_a)
        start = self._first[stretch]
        at = self.left_a[row] - self.left_a[start] + share * self.leaves_a[row]
        passes, again = _led_round(at, entering, leaving, self._passing_a[stretch])
        again = self.entered_a[start] + again
        contact = self.contact[stretch]
        begins_a, ends_a = (self._of_contacts(rest)[contact] for rest in self._rests_a)
        up_to = np.cumsum(self._rests_a[1]) - self._rests_a[1]
        at += (up_to - up_to[self._first_of_contact])[stretch] - self._passing_a[stretch] / 2
        carried, from_other = _led_round(at, begins_a, ends_a, self._carried_a[contact])
        again = np.where(passes, again, self._begun(contact, from_other))
        return passes | carried, again


def _led_round(
    at: FloatArray, entering: FloatArray, leaving: FloatArray, passing: FloatArray
) -> tuple[BoolArray, FloatArray]:
    """Return which currents pass, and where they enter again, when those first and last to leave do, the first to leave
    last and the last first: in order round a foot, the edges where current enters come before those where it leaves."""
    is_late = at > leaving - passing / 2
    again = np.where(is_late, leaving - at, entering - at)
    return (at < passing / 2) | (is_late & (passing > 0)), np.clip(again, 0.0, entering)


def contact_rims(mesh: Mesh, flows: EdgeFlows) -> ContactRims:
    """Return the rims of all contacts."""
    side, loops, is_closed = _in_order(mesh, flows)
    outflow = flows.outflow_a.ravel()[side]
    enters, leaves = np.maximum(-outflow, 0.0), np.maximum(outflow, 0.0)
    side, enters, leaves = _entering_first(loops, side, enters, leaves)
    first = np.searchsorted(loops, np.arange(loops.max(initial=-1) + 1))
    place = np.full(flows.across.size, -1, dtype=np.int64)
    place[side] = np.arange(len(side))
    return ContactRims(
        side=side,
        stretch=loops,
        enters_a=enters,
        leaves_a=leaves,
        entered_a=np.cumsum(enters) - enters,
        left_a=np.cumsum(leaves) - leaves,
        contact=flows.contact.ravel()[side[first]],
        is_closed=is_closed,
        place=place,
    )


def _in_order(mesh: Mesh, flows: EdgeFlows) -> tuple[IntArray, IntArray, BoolArray]:
    """Return the sides along contacts in order along each stretch, the stretch of each, and which stretches close."""
    held = np.flatnonzero(flows.contact.ravel() >= 0)
    triangle, k = np.divmod(held, 3)
    begin, end = mesh.triangles[triangle, (k + 1) % 3], mesh.triangles[triangle, (k + 2) % 3]
    contact = flows.contact.ravel()[held]
    n = len(mesh.points_mm)
    at = np.argsort(contact * n + begin)
    keys = (contact * n + begin)[at]
    wanted = contact * n + end
    found = np.minimum(np.searchsorted(keys, wanted), max(len(keys) - 1, 0))
    after = np.where(keys[found] == wanted, at[found], -1) if len(held) else np.empty(0, dtype=np.int64)
    open_first = np.setdiff1d(np.arange(len(held)), after)
    chains = _chains(after.tolist(), [*open_first.tolist(), *range(len(held))])
    is_closed = np.arange(len(chains)) >= len(open_first)
    order = np.argsort([contact[chain[0]] for chain in chains], kind="stable")
    chains = [chains[k] for k in order.tolist()]
    stretch = np.repeat(np.arange(len(chains)), [len(chain) for chain in chains])
    return held[np.concatenate(chains)], stretch, is_closed[order]


def _chains(after: list[int], starts: list[int]) -> list[IntArray]:
    """Return every number once, in chains that go from each to the one `after` it, until -1 or one already taken."""
    left, chains = [True] * len(after), []
    for start in starts:
        chain, here = [], start
        while here >= 0 and left[here]:
            left[here] = False
            chain.append(here)
            here = after[here]
        if chain:
            chains.append(np.array(chain, dtype=np.int64))
    return chains


def _entering_first(
    stretch: IntArray, side: IntArray, enters: FloatArray, leaves: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the edges of each stretch turned so that where current enters comes before where it leaves.

    Both scaled to one, their running difference is least where the current's entering begins.
    """
    n = int(stretch.max(initial=-1)) + 1
    whole = [np.bincount(stretch, weights=flow, minlength=n)[stretch] for flow in (enters, leaves)]
    step = enters / np.maximum(whole[0], 1e-300) - leaves / np.maximum(whole[1], 1e-300)
    running = np.cumsum(step) - step
    running[(whole[0] == 0) | (whole[1] == 0)] = 0.0
    order = np.lexsort((running, stretch))
    _, at = np.unique(stretch[order], return_index=True)
    begin = order[at]  # the row each stretch shall begin with
    first = np.searchsorted(stretch, np.arange(n))
    size = np.bincount(stretch, minlength=n)
    place = np.arange(len(stretch)) - first[stretch]
    turned = first[stretch] + (place + (begin - first)[stretch]) % size[stretch]
    return side[turned], enters[turned], leaves[turned]
