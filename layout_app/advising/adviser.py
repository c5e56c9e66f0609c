"""Adviser: tries terminal places, borders and sheets, and ranks what is worth a look beside the layout as it is.

First every pair of terminal places on the present metal; then the pairs worth a look with other borders and other
thicknesses. What breaks a rule that the start keeps is left out, and why is told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, get_args

from layout_app.advising.edges import Place, terminal_edge, tried_places
from layout_app.advising.measures import Measures, measures
from layout_app.advising.ranking import Weights, costs, is_no_better, score, worth_a_look
from layout_app.advising.trials import Trial
from layout_app.checks.findings import Finding
from layout_app.edits import ChangePlates, ChangeTerminal, Edit
from layout_app.model.errors import LayoutError
from layout_app.model.layouts import Layout
from layout_app.model.plates import BorderStyle
from layout_app.workings import Workings

Progress = Callable[[float], None]

SHEETS_MM = (0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0)  # rolled sheet as sold; no source
THINNER, THICKER = 1, 3  # steps of it tried to either side
REFINED = 5  # pairs of places tried with other borders and sheets
MOST, MOST_CHECKED = 12, 36  # proposals, for more nobody reads; layouts checked on the way to them
TRIAL_SHARE = 0.6  # of the work; the rest is checking
AS_IT_IS = Place("as it is", {})
BORDER_WORDS: dict[BorderStyle, str] = {"zigzag": "zigzag", "straight": "smoothed"}  # as the settings call them


@dataclass(frozen=True, slots=True)
class Proposal:
    """A layout worth a look, and the way to it; an edit like any other.

    Attributes
    ----------
    edits : one after the other
    parts : what each part of it does, in words
    remarks : what to know before taking it
    measures : of the layout it makes
    cost : imbalance, loss and mass over what they are at the start; see `ranking.costs`
    score : their weighted mean; 1 is the start, less is better
    """

    edits: tuple[Edit, ...]
    parts: tuple[str, ...]
    remarks: tuple[str, ...]
    measures: Measures
    cost: tuple[float, float, float]
    score: float

    @property
    def label(self) -> str:
        """E.g. "Negative terminal in the middle; sheet 0.8 mm"."""
        words = "; ".join(self.parts)
        return words[:1].upper() + words[1:]

    def apply(self, layout: Layout) -> Layout:
        """Return the layout changed as proposed."""
        for edit in self.edits:
            layout = edit.apply(layout)
        return layout

    def as_json(self) -> dict[str, Any]:
        """Return the object other programs read."""
        imbalance, loss, mass = self.cost
        return {
            "label": self.label, "score": self.score, "remarks": list(self.remarks),
            "over_start": {"imbalance": imbalance, "loss": loss, "mass": mass}, **self.measures.as_json(),
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A layout that would have been worth a look but for what it breaks."""

    label: str
    why: str


@dataclass(frozen=True, slots=True)
class Advice:
    """What the adviser found.

    Attributes
    ----------
    start : measures of the layout as it is; its score is 1
    proposals : best first; none is no better than another in all of imbalance, loss and mass
    left_out : what breaks rules
    n_tried : layouts whose currents were worked out
    weights : of the score
    """

    start: Measures
    proposals: tuple[Proposal, ...]
    left_out: tuple[LeftOut, ...]
    n_tried: int
    weights: Weights

    def as_json(self) -> dict[str, Any]:
        """Return the object other programs read."""
        return {
            "start": self.start.as_json(), "score": self.weights.words, "tried": self.n_tried,
            "proposals": [proposal.as_json() for proposal in self.proposals],
            "left_out": [{"label": each.label, "why": each.why} for each in self.left_out],
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Candidate:
    """One combination of choices: places of the negative and positive terminal, and fields of the plate settings."""

    places: tuple[Place, Place] = (AS_IT_IS, AS_IT_IS)
    borders: BorderStyle | None = None
    thickness_mm: float | None = None

    @property
    def shape(self) -> tuple[str, str, str | None]:
        """What its metal looks like from above, in words."""
        return self.places[0].words, self.places[1].words, self.borders

    @property
    def edits(self) -> tuple[Edit, ...]:
        moved = [ChangeTerminal(bool(k), place.changes) for k, place in enumerate(self.places) if place.changes]
        fields = {"borders": self.borders, "thickness_mm": self.thickness_mm}
        changes = {name: value for name, value in fields.items() if value is not None}
        return (*moved, *([ChangePlates(changes)] if changes else []))

    @property
    def parts(self) -> tuple[str, ...]:
        negative, positive = (place.words if place.changes else "" for place in self.places)
        ends = [f"negative terminal {negative}"] * bool(negative) + [f"positive terminal {positive}"] * bool(positive)
        if negative == positive != "":
            ends = [f"both terminals {negative}"]
        borders = [f"{BORDER_WORDS[self.borders]} borders"] if self.borders else []
        return (*ends, *borders, *([f"sheet {self.thickness_mm:g} mm"] if self.thickness_mm else []))

    @property
    def label(self) -> str:
        words = "; ".join(self.parts)
        return words[:1].upper() + words[1:]

    @property
    def remarks(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(place.remark for place in self.places if place.remark))

    def of(self, layout: Layout) -> Layout:
        for edit in self.edits:
            layout = edit.apply(layout)
        return layout


def advise(
    workings: Workings,
    *,
    current_a: float | None = None,
    weights: Weights | None = None,
    progress: Progress | None = None,
) -> Advice:
    """Return what would serve a layout better, best first.

    Parameters
    ----------
    workings : of the layout as it is
    current_a : what the module carries; by default what it is meant to
    weights : of the score
    progress : called with the share done, several times a second; what it raises ends the work and comes through

    Raises
    ------
    LayoutError : a layout whose currents cannot be worked out
    """
    search = _Search(Trial.of(workings), current_a, weights or Weights(), progress or (lambda share: None))
    search.try_places()
    search.try_sheets()
    proposals = tuple(search.proposals(workings))
    return Advice(search.began, proposals, tuple(search.left_out), len(search.tried), search.weights)


class _Search:
    """What has been tried, beside the start."""

    def __init__(self, start: Trial, current_a: float | None, weights: Weights, tell: Progress) -> None:
        self.start, self.weights, self.tell = start, weights, tell
        self.began = measures(start, start.solve(current_a))
        self.tried: dict[_Candidate, Measures] = {}
        self.left_out: list[LeftOut] = []

    def cost(self, candidate: _Candidate) -> tuple[float, float, float]:
        """Return a candidate's costs over those of the start."""
        return costs(self.tried[candidate], self.began)

    def try_out(self, candidate: _Candidate, near: Trial) -> Trial | None:
        """Work out the currents of a candidate, from a trial that is like it; None where none can flow."""
        return self.measure(candidate, near.changed)

    def measure(self, candidate: _Candidate, made: Callable[[Layout], Trial]) -> Trial | None:
        """Work out the currents of a candidate, given what makes its trial; None where none can flow."""
        try:
            trial = made(candidate.of(self.start.layout))
            self.tried[candidate] = measures(trial, trial.solve(self.began.current_a))
        except LayoutError as error:
            self.left_out.append(LeftOut(candidate.label, str(error)))
            return None
        return trial

    def try_places(self) -> None:
        """Try every pair of places on the metal as it is: each place by itself, then all that can be had together."""
        negatives, positives = _places(self.start)
        rows = self._by_themselves([_Candidate((negative, AS_IT_IS)) for negative in negatives], 0.0)
        columns = self._by_themselves([_Candidate((AS_IT_IS, positive)) for positive in positives[1:]], 0.25)
        for k, (one, row) in enumerate(rows[1:]):
            for j, (other, column) in enumerate(columns):
                self.tell(TRIAL_SHARE / 2 * (1 + (k + j / len(columns)) / len(rows)) / 2)
                self.measure(_Candidate((one.places[0], other.places[1])), partial(row.ending_as, column))

    def _by_themselves(self, candidates: list[_Candidate], done: float) -> list[tuple[_Candidate, Trial]]:
        """Try candidates on the start, `done` of the places' share being through; return those that conduct."""
        found = []
        for k, candidate in enumerate(candidates):
            self.tell(TRIAL_SHARE / 2 * (done + k / (4 * len(candidates))))
            trial = self.try_out(candidate, self.start)
            found += [] if trial is None else [(candidate, trial)]
        return found

    def try_sheets(self) -> None:
        """Try the start and the best pairs of places with other borders and other thicknesses."""
        chosen = [_Candidate(), *self.best(REFINED)]
        now = self.start.layout.plates
        others = [style for style in get_args(BorderStyle) if style != now.borders]
        sheets = [None, *_sheets_mm(now.thickness_mm)]
        for k, borders in enumerate((None, *others)):
            near = self.start if borders is None else self.try_out(_Candidate(borders=borders), self.start)
            for j, pair in enumerate(chosen if near else ()):
                self.tell(TRIAL_SHARE / 2 * (1 + (k + j / len(chosen)) / (1 + len(others))))
                shaped = self.try_out(_Candidate(pair.places, borders), near or self.start)
                for thickness_mm in sheets[1:] if shaped else ():
                    self.try_out(_Candidate(pair.places, borders, thickness_mm), shaped or self.start)

    def best(self, most: int) -> list[_Candidate]:
        """Return the candidates worth a look, best first."""
        candidates = list(self.tried)
        order = worth_a_look([self.cost(each) for each in candidates], self.weights)
        return [candidates[k] for k in order if candidates[k].edits][:most]

    def proposals(self, workings: Workings) -> Iterator[Proposal]:
        """Yield what is worth a look and keeps the rules, best first; what does not goes to `left_out`."""
        kept: list[tuple[float, float, float]] = [(1.0, 1.0, 1.0)]  # the start itself
        broken: dict[tuple[str, str, str | None], float] = {}
        n_checked = 0
        for candidate in sorted(self.tried, key=lambda each: score(self.cost(each), self.weights)):
            cost = self.cost(candidate)
            thickness_mm = candidate.thickness_mm or self.start.layout.plates.thickness_mm
            is_like_broken = thickness_mm >= broken.get(candidate.shape, float("inf"))  # no rule likes thicker sheet
            if is_like_broken or not candidate.edits or any(is_no_better(cost, other) for other in kept):
                continue
            if n_checked == MOST_CHECKED or len(kept) > MOST:
                return
            done = max(n_checked / MOST_CHECKED, (len(kept) - 1) / MOST)
            n_checked += 1
            errors, warnings = _new_findings(workings, candidate, partial(self._tell_checking, done))
            if errors:
                broken[candidate.shape] = thickness_mm
                self.left_out.append(LeftOut(candidate.label, errors[0].message))
                continue
            kept.append(cost)
            remarks = (*candidate.remarks, *(f"New warning: {finding.message}" for finding in warnings))
            yield Proposal(
                edits=candidate.edits,
                parts=candidate.parts,
                remarks=remarks,
                measures=self.tried[candidate],
                cost=cost,
                score=score(cost, self.weights),
            )

    def _tell_checking(self, done: float, _share: float = 0.0) -> None:
        """Say how many layouts are checked: called ever again while one is, so that a wish to end is heard."""
        self.tell(TRIAL_SHARE + (1 - TRIAL_SHARE) * done)


def _places(start: Trial) -> tuple[list[Place], list[Place]]:
    """Return the places to try for either terminal, each as it is first; named alike where they lie alike."""
    edges = [terminal_edge(start.shape.plates, is_positive) for is_positive in (False, True)]
    negative, positive = edges
    if negative is not None and positive is not None:
        edges[1] = positive.turned_like(negative)
    tried = []
    for edge, terminal in zip(edges, start.layout.terminals, strict=True):
        tried.append([AS_IT_IS, *(tried_places(edge, terminal) if edge is not None else ())])
    return tried[0], tried[1]


def _sheets_mm(now_mm: float) -> list[float]:
    """Return the thicknesses to try: those sold next to the present one."""
    thinner = [each for each in SHEETS_MM if each < now_mm - 1e-9]
    thicker = [each for each in SHEETS_MM if each > now_mm + 1e-9]
    return thinner[len(thinner) - THINNER :] + thicker[:THICKER]


def _new_findings(workings: Workings, candidate: _Candidate, tell: Progress) -> tuple[list[Finding], list[Finding]]:
    """Return the errors and the warnings that a candidate has more of than the start: of a rule, about a segment."""
    known = Counter(map(_kind, workings.findings))
    made, new = Workings(candidate.of(workings.layout), workings), []
    made.plates.progress = made.network.progress = tell
    tell(0.0)
    for finding in made.findings:
        known[_kind(finding)] -= 1
        if known[_kind(finding)] < 0:
            new.append(finding)
    return [f for f in new if f.severity == "error"], [f for f in new if f.severity == "warning"]


def _kind(finding: Finding) -> tuple[str, str, tuple[int, ...]]:
    return finding.severity, finding.rule, finding.segments
