"""Comparing the mean of a number in two groups of moments, by sharing out the values anew."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from tactical_kit.claims.base import counted, possessions_of
from tactical_kit.claims.compared import (
    Compared,
    Group,
    change_words,
    check_labels,
    claimed_words,
    direction_of,
    judge_difference,
    round_words,
    too_few,
)
from tactical_kit.claims.conditions import column_values
from tactical_kit.claims.interval import check_level
from tactical_kit.claims.resample import DRAWS, permutation_p, resampled_mean_difference
from tactical_kit.claims.splits import Split, as_split, two_groups
from tactical_kit.claims.verdict import FEW
from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import finder_names, get_finder
from tactical_kit.match import Match
from tactical_kit.moments import Moments

__all__ = ["MeanComparison", "compare_means"]


@dataclass(frozen=True, eq=False, repr=False)
class MeanComparison(Compared):
    """Two means compared.  Made by `compare_means`; `interval` is of second less first."""

    column: str = ""
    unit: str = ""
    p_value: float = float("nan")
    exact: bool = False
    left_out: int = 0
    level: float = 0.95

    def _clear(self) -> bool:
        # Both have to say so: the permutation test and the interval.
        return self.p_value <= 1 - self.level + 1e-12 and super()._clear()

    @property
    def numbers(self) -> str:
        """Both means, the difference with its interval, and the p of the permutation test."""
        unit = f" {self.unit}" if self.unit else ""
        parts = [
            f"{g.name} {round_words(g.value)}{unit}, mean of {g.base}" if g.base else f"{g.name} none"
            for g in (self.first, self.second)
        ]
        if self.interval is None:
            return "; ".join(parts)
        change = change_words(
            self.difference, self.interval, self.second.phrase, self.unit, lambda v: round_words(abs(v))
        )
        how = "all ways to share out the values" if self.exact else "values shared out at random"
        # Two figures from 0.1 on, else the first; rounding never carries it over the share that is called chance.
        decimals = 2 if self.p_value >= 0.095 else math.ceil(-math.log10(self.p_value))
        p = round_words(self.p_value, (round(1 - self.level, 12), 1.0), decimals)
        return f"{'; '.join(parts)}: {change}, p = {p} ({how})"

    @property
    def notes(self) -> tuple[str, ...]:
        """Moments whose number is unknown."""
        if not self.left_out:
            return ()
        left = "is left out" if self.left_out == 1 else "are left out"
        return (f"{counted(self.left_out, 'moment')} without {self.column} {left}.",)


def compare_means(
    moments: Moments,
    column: str,
    by: Split | str | ArrayLike,
    *,
    first: str | None = None,
    second: str | None = None,
    more: str | None = None,
    less: str | None = None,
    text: str = "",
    match: Match | None = None,
    possession: ArrayLike | None = None,
    few: int = FEW,
    level: float = 0.95,
    seed: int = 0,
    draws: int = DRAWS,
) -> MeanComparison:
    """Compare the mean of a number in two groups of moments by a permutation test.

    Parameters
    ----------
    moments : Moments
        All instances; those whose number is unknown are left out, and counted.
    column : str
        The number: one of the finder's, `duration_s`, `minute`.
    by, first, second, more, less, text, match, possession, few, level, seed, draws
        As in `compare`.

    Returns
    -------
    MeanComparison
        With `.difference` (second less first), `.interval` (bootstrap), `.p_value` and `.exact`.

    Raises
    ------
    TacticalKitError
        A column that is not there or holds no numbers, groups that there are not.

    Notes
    -----
    A difference is called clear where the permutation test and the interval both say so.  Values from one
    possession change groups, and are drawn, together.  All ways to share out the values are looked at
    where there are at most 200,000; else 9,999 random ones, by a seed.
    Source: Fisher's permutation test; Efron & Tibshirani 1993 for the interval.
    """
    check_level(level)
    split = as_split(by, moments, match)
    values = column_values(moments, column, match)
    if not pd.api.types.is_numeric_dtype(values) or pd.api.types.is_bool_dtype(values):
        raise TacticalKitError(f"{column} holds no numbers, so it has no mean; expected a column of numbers.")
    number = values.to_numpy(float)
    labels = split.label(moments)
    one, two, labels = two_groups(split, labels, first, second)
    known = np.isfinite(number)
    left_out = int((~known & ((labels == one) | (labels == two))).sum())
    together = possessions_of(moments, match) if possession is None else np.asarray(possession)
    if together is not None:
        check_labels(together, moments)
    groups, parts, spells = [], [], []
    for name in (one, two):
        rows = (labels == name) & known
        part = moments.where(rows)
        mean = float(number[rows].mean()) if rows.any() else float("nan")
        groups.append(Group(name, split.phrases(name), part, part, mean))
        parts.append(number[rows])
        spells.append(None if together is None else together[rows])
    a, b = groups
    interval, p, exact = None, float("nan"), False
    if a.base and b.base:
        interval, _ = resampled_mean_difference(parts[1], parts[0], spells[1], spells[0], level, seed=seed, draws=draws)
        p, exact = permutation_p(parts[1], parts[0], spells[1], spells[0], seed=seed)
    direction = direction_of(more, less, split, one, two)
    clear = interval is not None and 0 not in interval and p <= 1 - level + 1e-12
    claimed = claimed_words(more, less, direction, groups, "")
    verdict = judge_difference(clear, b.value - a.value, direction, claimed, *too_few(groups, few, spells))
    unit = _unit_of(moments, column)
    return MeanComparison(text, a, b, interval, verdict, column, unit, p, exact, left_out, level)


_ENDINGS = {"_ms": "m/s", "_s": "s", "_m": "m", "_pct": "%"}


def _unit_of(moments: Moments, column: str) -> str:
    """The unit that the finder states, or the one in the name of the column."""
    if moments.finder in finder_names():
        described = get_finder(moments.finder).columns.get(column)
        if described is not None:
            return described.unit
    return next((unit for ending, unit in _ENDINGS.items() if column.endswith(ending)), "")
