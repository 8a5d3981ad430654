"""What every claim asks of its Moments: that a part is a part, when each moment is, which possession it is in."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.finders.context import possession_at
from tactical_kit.match import Match
from tactical_kit.match.clock import _LENGTH_MIN, _START_MIN
from tactical_kit.moments import Moments

__all__ = ["check_part", "counted", "instants", "match_minutes", "moment_labels", "possessions_of"]

_SAME = ["period", "start_s", "end_s", "team"]


def counted(number: int, word: str) -> str:
    """Return "1 instance", "2 instances"."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def check_part(moments: Moments, of: Moments, names: tuple[str, str] = ("moments", "of")) -> None:
    """Refuse moments that are not among those they are counted of.

    Raises
    ------
    TacticalKitError
        Another finder, another match, other thresholds, a moment that is not there or not the same, a moment twice.
    """
    part, whole = names
    for name, value in ((part, moments), (whole, of)):
        if not isinstance(value, Moments):
            raise TacticalKitError(f"`{name}` is {type(value).__name__}; expected Moments, as a finder returns them.")
        twice = value.table["moment_id"][value.table["moment_id"].duplicated()]
        if len(twice):
            raise TacticalKitError(f"`{name}` has the moment {twice.iloc[0]!r} twice; each instance counts once.")
    why = ""
    if moments.finder != of.finder:
        why = f"they come from the finder {moments.finder!r}, those in `{whole}` from {of.finder!r}"
    elif moments.match_id != of.match_id:
        why = f"they are of the match {moments.match_id!r}, those in `{whole}` of {of.match_id!r}"
    elif dict(moments.params) != dict(of.params):
        other = [k for k in {**moments.params, **of.params} if moments.params.get(k) != of.params.get(k)]
        key = other[0]
        why = (
            f"they were found with {key} = {moments.params.get(key)!r}, those in `{whole}` with {of.params.get(key)!r}"
        )
    else:
        ids = moments.table["moment_id"]
        row = pd.Index(of.table["moment_id"]).get_indexer(pd.Index(ids))
        there = row >= 0
        strange = ~there
        for column in _SAME:
            own, other_own = (m.table[column].to_numpy() for m in (moments, of))
            strange[there] |= own[there] != other_own[row[there]]
        if strange.any():
            first = ids[strange].iloc[0]
            many = counted(int(strange.sum()), "such moment")
            why = f"{first!r} is not in `{whole}`, or is another moment there ({many})"
    if why:
        raise TacticalKitError(
            f"`{part}` must be among the moments in `{whole}`: {why}. Take them from there, as "
            f"{part}={whole}.where(...)."
        )


def instants(moments: Moments) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return period and second of each moment: its `time_s` where the finder tells one, else its start."""
    column = "time_s" if "time_s" in moments.table else "start_s"
    return moments.table["period"].to_numpy(np.int64), moments.table[column].to_numpy(float)


def possessions_of(moments: Moments, match: Match | None) -> NDArray[np.int64] | None:
    """Return a label for each moment, equal for those in one possession; None where that is not known.

    A moment while the ball is dead stands for itself.
    """
    if match is None or (match.events is None and match.tracking is None):
        return None
    try:
        row = possession_at(match, *instants(moments))
    except MissingDataError:
        return None
    return np.where(row >= 0, row, -1 - np.arange(len(row)))


def match_minutes(period: NDArray[np.int64], time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the minute on the match clock of N instants; added time stays at the last minute of its period.

    >>> match_minutes(np.array([1, 1, 2]), np.array([600.0, 2760.0, 900.0])).tolist()
    [10.0, 45.0, 60.0]
    """
    start, length = (np.array([0.0, *table.values()]) for table in (_START_MIN, _LENGTH_MIN))
    return start[period] + np.minimum(time_s / 60, length[period])


def moment_labels(moments: Moments, match: Match | None) -> tuple[str, ...]:
    """Return the match clock of each moment, with a match; else its id."""
    if match is None:
        return tuple(moments.table["moment_id"])
    return tuple(match.clock.label(int(p), float(s)) for p, s in zip(*instants(moments)))
