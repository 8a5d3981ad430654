"""What an explorer computes once for a match and keeps with it, and stretches of the time line."""

from __future__ import annotations

from collections import OrderedDict
from typing import Any

import numpy as np

from tactical_kit.errors import MissingDataError
from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex, index_match
from tactical_kit.moments import Moments
from tactical_kit.phases import find_phases

__all__ = ["Prepared", "kept_for", "prepare_match", "timeline_to_segment"]


class Prepared:
    """What is computed once for a match and lives as long as it: phases, index, and the answers given so far."""

    def __init__(self, match: Match) -> None:
        try:
            self.phases: Moments | None = find_phases(match)
        except MissingDataError:
            self.phases = None
        self.index = index_match(match, self.phases)
        self.answers: OrderedDict[tuple[Any, ...], Any] = OrderedDict()


def kept_for(match: Match) -> Prepared:
    """Return what is kept for a match, computed on the first call."""
    # Kept by the match itself: a table beside it could not let go of it, as the index holds the match.
    kept: Prepared | None = match.__dict__.get("_explored")
    if kept is None:
        kept = match.__dict__["_explored"] = Prepared(match)
    return kept


def prepare_match(match: Match) -> tuple[Moments | None, MatchIndex]:
    """Return phases and index of a match, computed on the first call and kept while the match lives."""
    kept = kept_for(match)
    return kept.phases, kept.index


def timeline_to_segment(match: Match, start: float, end: float) -> tuple[tuple[int, float, float], ...] | None:
    """Return the spans (period, start_s, end_s) of a stretch of the time line; None if it is the whole match.

    Limits are rounded to the second; a stretch of less than a second is widened to one.
    """
    start, end = sorted((float(start), float(end)))
    total = match.clock.total_s
    start, end = min(max(0.0, round(start)), total - 1), min(round(end), total)
    end = max(end, start + 1)
    if start <= 0 and end >= total - 1:
        return None
    spans = []
    for period in match.periods:
        offset = float(match.clock.timeline(period.number, 0.0))
        a, b = (round(float(np.clip(t - offset, 0.0, period.duration_s)), 6) for t in (start, end))
        # What reaches the last second of a period reaches its end.
        b = period.duration_s if b > period.duration_s - 1 else b
        if b - a >= 1:
            spans.append((period.number, float(a), float(b)))
    return tuple(spans) or None
