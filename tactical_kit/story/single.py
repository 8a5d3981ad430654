"""Single moments whose number lies far outside those of the others."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tactical_kit.claims.compared import round_words
from tactical_kit.finders import get_finder
from tactical_kit.match import Match
from tactical_kit.moments import Moments
from tactical_kit.story.facts import Number

__all__ = ["far_out"]

FENCE = 3.0  # quartile distances beyond the quartile; Tukey 1977, Exploratory Data Analysis: "far out" (from memory)
LEAST = 20  # with fewer values nothing is far out
MOST = 2  # told of one number


def far_out(moments: Moments, number: Number, match: Match) -> Iterator[tuple[int, str]]:
    """Yield (row, sentence) of the moments whose number lies beyond the outer fences, the farthest first.

    Parameters
    ----------
    moments : Moments
        Of both sides.
    number : Number
        Which column, and what it is called.
    match : Match
        For the clock and the names.

    Notes
    -----
    Below the lower quartile, or above the upper one, by more than three times their distance.  Numbers that are
    equal for half of the moments have no such fence.
    """
    values = moments[number.column].to_numpy(float, na_value=np.nan)
    known = np.isfinite(values)
    if known.sum() < LEAST:
        return
    low, middle, high = np.quantile(values[known], [0.25, 0.5, 0.75])
    if high <= low:
        return
    away = np.fmax(low - values, values - high) / (high - low)
    column = get_finder(number.finder).columns[number.column]
    unit = f" {column.unit}" if column.unit else ""
    for row in np.argsort(-np.where(known, away, -np.inf), kind="stable")[:MOST]:
        if not away[row] > FENCE:
            return
        moment = moments.table.iloc[row]
        clock = match.clock.label(int(moment["period"]), float(moment["start_s"]))
        text = (
            f"{match.team(moment['team']).name} at {clock}, {number.says}: {_figure(values[row])}{unit}; the median of "
            f"all {int(known.sum())} is {_figure(middle)}{unit}."
        )
        yield int(row), text


def _figure(value: float) -> str:
    return f"{value:.0f}" if float(value).is_integer() else round_words(float(value))
