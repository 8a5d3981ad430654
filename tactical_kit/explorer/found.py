"""What the finders found in a match, under a selection and under filters on their own numbers; every answer is kept."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tactical_kit.explorer.finding import Finding
from tactical_kit.explorer.lists import TAG, tag_moments
from tactical_kit.explorer.number_filters import NUMBER, Facet, OwnColumn, choices_of, facets_of, own_columns
from tactical_kit.explorer.touching import held, in_time, masks_of, phase_rows, spans_of
from tactical_kit.finders import find
from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.selection import Selection
from tactical_kit.moments import Moments
from tactical_kit.phases import IN_PHASES, OUT_PHASES

__all__ = ["Found"]

Cached = Callable[[tuple[Any, ...], Callable[[], Any]], Any]


class Found:
    """The moments of any finder in one match.

    Parameters
    ----------
    match : Match
        The match.
    index : MatchIndex
        The match prepared for questions.
    phases : Moments or None
        Phases with their own thresholds, found already.
    cached : callable
        `cached(key, make)` returns what is kept under a key, made on the first call.
    """

    def __init__(self, match: Match, index: MatchIndex, phases: Moments | None, cached: Cached) -> None:
        self.match, self.index, self.phases, self._cached = match, index, phases, cached

    def everything(self, finding: Finding) -> Moments:
        """Return all that the finder finds in the match with its thresholds."""

        def make() -> Moments:
            if finding.finder == TAG:
                return tag_moments(self.match)
            if finding.finder == "phase" and self.phases is not None and not finding.thresholds:
                return self.phases
            return find(self.match, finding.finder, **dict(finding.thresholds))

        return self._cached(("moments", *_asked(finding)), make)

    def kept(self, key: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        """Return an answer of another kind that depends on the match and the key alone."""
        return self._cached(key, make)

    def is_known(self, finding: Finding) -> bool:
        """Whether the finder has been asked this before: then the answer comes at once."""
        try:
            self._cached(("moments", *_asked(finding)), _not_yet)
        except _NotYet:
            return False
        return True

    def columns(self, finding: Finding) -> list[OwnColumn]:
        """Return the finder's own columns."""
        return self._cached(
            ("columns", *_asked(finding)), lambda: own_columns(finding.finder, self.everything(finding).table)
        )

    def fitting(self, finding: Finding, selection: Selection) -> NDArray[np.bool_]:
        """Tell which of all moments fit the selection, whatever their numbers."""
        return self._cached(("fitting", *_asked(finding), selection), lambda: self._fitting(finding, selection))

    def _fitting(self, finding: Finding, s: Selection) -> NDArray[np.bool_]:
        table = self.everything(finding).table
        keep = np.ones(len(table), bool)
        if not len(table):
            return keep
        if finding.finder == "phase":
            keep &= phase_rows(self.match, table, s)
        elif s.team is not None:
            keep &= table["team"].isin([self.match.team(s.team).team_id, ""]).to_numpy(bool)
        if s.active and s.active != ("team",):
            data = self.index.has_events or self.index.has_frames
            if data:
                spans = self._cached(("spans", *_asked(finding)), lambda: spans_of(self.index, table))
                keep &= held(spans, masks_of(self.index, s))
            else:
                keep &= in_time(table, s.segment)
        return keep

    def selected(self, finding: Finding, selection: Selection) -> Moments:
        """Return the moments that fit the selection, before the filters on their numbers."""
        return self._cached(
            ("selected", *_asked(finding), selection),
            lambda: self.everything(finding).where(self.fitting(finding, selection)),
        )

    def shown(self, finding: Finding, selection: Selection) -> Moments:
        """Return the moments that fit the selection and the filters on their numbers."""
        if not finding.filters:
            return self.selected(finding, selection)
        return self._cached(
            ("shown", *_asked(finding), finding.filters, selection), lambda: self._shown(finding, selection)
        )

    def _shown(self, finding: Finding, selection: Selection) -> Moments:
        everything = self.everything(finding)
        keep = self.fitting(finding, selection).copy()
        for f in finding.filters:
            keep &= f.mask(everything.table[f.column])
        return everything.where(keep)

    def facets(self, finding: Finding, selection: Selection) -> list[Facet]:
        """Return each of the finder's columns with what each answer would leave."""
        return self._cached(
            ("facets", *_asked(finding), finding.filters, selection), lambda: self._facets(finding, selection)
        )

    def _facets(self, finding: Finding, selection: Selection) -> list[Facet]:
        table, columns = self.everything(finding).table, self.columns(finding)
        words = self._cached(
            ("words", *_asked(finding)),
            lambda: {c.name: choices_of(table[c.name]) for c in columns if c.kind != NUMBER},
        )
        return facets_of(table, columns, finding.filters, self.fitting(finding, selection), words)

    def phase_counts(self, selection: Selection, with_ball: bool) -> tuple[dict[str, int], dict[str, int]]:
        """Return how many instances of each phase there are to choose from.

        Parameters
        ----------
        selection : Selection
            What is selected.
        with_ball : bool
            Whether the side has the ball in the phases that are offered for it.

        Returns
        -------
        (dict, dict)
            Instances by phase of the side, and of the other side meanwhile.  Each counts the phases that the rest
            of the selection touches, its own condition left out; {} without phases.
        """
        if self.phases is None or not len(self.phases):
            return {}, {}
        key = ("phase counts", selection, with_ball)
        return self._cached(key, lambda: tuple(self._phase_count(selection, own, with_ball) for own in (True, False)))

    def _phase_count(self, selection: Selection, own: bool, with_ball: bool) -> dict[str, int]:
        condition = "phases" if own else "opponent_phases"
        rest = selection.replace(**{condition: frozenset()})
        masks = masks_of(self.index, rest, with_ball)
        counts = {}
        for name in IN_PHASES if with_ball == own else OUT_PHASES:
            key = ("phase places", rest.team, condition, name, with_ball)
            alone, spans = self._cached(key, partial(self._phase_places, rest.team, condition, name, with_ball))
            counts[name] = int(held(spans, [a & b for a, b in zip(masks, alone)]).sum())
        return counts

    def _phase_places(self, team: str | None, condition: str, name: str, with_ball: bool) -> tuple[Any, Any]:
        """What a phase alone selects, and the spans of its instances; kept, as no filter changes them."""
        assert self.phases is not None
        own, table = condition == "phases", self.phases.table
        chosen: dict[str, Any] = {condition: frozenset({name})}
        rows = (table["phase"] == name) & (table["side"] == ("in" if with_ball == own else "out"))
        if team is not None:
            rows &= (table["team"] == team) if own else (table["team"] != team)
        return masks_of(self.index, Selection(team=team, **chosen), with_ball), spans_of(self.index, table[rows])


class _NotYet(Exception):
    """There is no answer under that key."""


def _not_yet() -> Any:
    raise _NotYet


def _asked(finding: Finding) -> tuple[Any, ...]:
    # 1, 1.0 and True are equal and not the same question.
    return finding.finder, tuple((name, type(value), value) for name, value in finding.thresholds)
