"""Comparing how often something is so in two groups of moments: halves, scores, before and after, with and without."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.claims.base import check_part, counted, possessions_of
from tactical_kit.claims.compared import (
    Compared,
    Group,
    change_words,
    check_labels,
    claimed_words,
    direction_of,
    judge_difference,
    span_words,
    too_few,
)
from tactical_kit.claims.interval import Interval, check_level, newcombe_interval, percent, points
from tactical_kit.claims.resample import DRAWS, Resampled, resampled_difference
from tactical_kit.claims.splits import (
    Split,
    as_split,
    split_by_halves,
    split_by_minute,
    split_by_score,
    split_by_substitution,
    two_groups,
)
from tactical_kit.claims.verdict import FEW
from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match
from tactical_kit.moments import Moments

__all__ = ["Comparison", "compare", "compare_before_after", "compare_halves", "compare_score_states"]


@dataclass(frozen=True, eq=False, repr=False)
class Comparison(Compared):
    """Two shares compared.  Made by `compare` and its kind; `interval` is of second less first."""

    resampled: Resampled | None = None
    newcombe: Interval | None = None

    @property
    def numbers(self) -> str:
        """Both counts and shares, and the difference in percentage points with its interval."""
        parts = [
            f"{g.name} {g.count} of {g.base}" + (f", {percent(g.value)} %" if g.base else "")
            for g in (self.first, self.second)
        ]
        if self.interval is None:
            return "; ".join(parts)
        return (
            "; ".join(parts)
            + ": "
            + change_words(self.difference, self.interval, self.second.phrase, "point", lambda v: points(abs(v)))
        )

    @property
    def dependence_matters(self) -> bool:
        """True where drawing possessions moves an end of the interval outwards by a point or more."""
        if self.resampled is None or self.newcombe is None:
            return False
        drawn = self.resampled.interval
        return max(self.newcombe.low - drawn.low, drawn.high - self.newcombe.high) >= 0.01

    @property
    def notes(self) -> tuple[str, ...]:
        """How much it matters that several instances come from one possession."""
        if self.resampled is None or self.newcombe is None:
            return ()
        drawn = self.resampled.interval
        head = (
            f"{counted(self.first.base + self.second.base, 'instance')} from "
            f"{counted(self.resampled.possessions, 'possession')} depend on each other: drawing possessions gives "
            f"{span_words(drawn, 'point', lambda v: points(abs(v)))}"
        )
        if self.dependence_matters:
            return (f"{head}; at either end the wider one counts.",)
        return (f"{head}, which changes nothing here.",)


def compare(
    moments: Moments,
    of: Moments,
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
) -> Comparison:
    """Compare how often something is so in two groups of moments, and say whether the difference could be chance.

    Parameters
    ----------
    moments, of : Moments
        The instances it is true of, among all instances.
    by : Split, str or (N,) array
        What makes the groups: one of the `split_by_...` functions, the name of a column, or a label for each
        moment of `of`.
    first, second : str, optional
        Which two groups, where there are more; with one of them given the other is all the rest.
    more, less : str, optional
        The group in which it is claimed to be more, or less, often; without, the verdict is "counted".
    text : str
        The claim in words.
    match, possession, few, level, seed, draws
        As in `claim`; either group with fewer than `few` instances is too few.

    Returns
    -------
    Comparison
        With both groups, `.difference` (second less first), `.interval`, `.could_be_chance`, `.sentence`.

    Raises
    ------
    TacticalKitError
        `moments` that are not among `of`, groups that there are not.

    Notes
    -----
    The interval is Newcombe's, and where several instances come from one possession the wider of it and the one
    from drawing possessions.  The claim is supported where the interval leaves 0 out on its side.
    Source: Newcombe 1998, method 10 (from memory).

    >>> rows = [dict(period=1 + (i > 36), start_s=i, end_s=i + 1, team="A", players=(), won=i < 31 or i > 50)
    ...         for i in range(71)]
    >>> found = Moments.build("demo", rows, {"won": "bool"})
    >>> print(compare_halves(found.where(won=True), of=found).sentence)
    first half 31 of 37, 84 %; second half 20 of 34, 59 %: 25 points less in the second half (95 % interval \
4 to 44 points less). Chance alone would seldom make a difference this large.
    """
    check_part(moments, of)
    check_level(level)
    split = as_split(by, of, match)
    names = two_groups(split, split.label(of), first, second)
    hit = of.table["moment_id"].isin(moments.table["moment_id"]).to_numpy(bool)
    rows = [names[2] == name for name in names[:2]]
    groups = []
    for name, mine in zip(names[:2], rows):
        part, whole = of.where(mine & hit), of.where(mine)
        share = len(part) / len(whole) if len(whole) else float("nan")
        groups.append(Group(name, split.phrases(name), part, whole, share))
    a, b = groups
    newcombe = interval = resampled = None
    spells: list[NDArray[Any]] | None = None
    if a.base and b.base:
        newcombe = newcombe_interval(b.count, b.base, a.count, a.base, level)
        labels = possessions_of(of, match) if possession is None else np.asarray(possession)
        if labels is not None:
            check_labels(labels, of)
            used = rows[0] | rows[1]
            drawn = resampled_difference(hit[used], labels[used], rows[1][used], level, seed=seed, draws=draws)
            resampled = drawn if drawn.largest > 1 else None
            spells = [labels[mine] for mine in rows]
        interval = newcombe.around(resampled.interval if resampled else None)
    direction = direction_of(more, less, split, a.name, b.name)
    clear = interval is not None and 0 not in interval
    claimed = claimed_words(more, less, direction, groups, "often ")
    verdict = judge_difference(clear, b.value - a.value, direction, claimed, *too_few(groups, few, spells))
    return Comparison(text, a, b, interval, verdict, resampled, newcombe)


def compare_halves(moments: Moments, of: Moments, **options: Any) -> Comparison:
    """Compare how often something is so in the first half and in the second; see `compare` for the options."""
    return compare(moments, of, split_by_halves(), **options)


def compare_score_states(
    match: Match, moments: Moments, of: Moments, first: str = "leading", second: str = "trailing", **options: Any
) -> Comparison:
    """Compare how often something is so in two states of the score, seen by the side; see `compare`."""
    return compare(moments, of, split_by_score(match), first=first, second=second, match=match, **options)


def compare_before_after(
    match: Match, moments: Moments, of: Moments, *, at: str | None = None, player: str | None = None, **options: Any
) -> Comparison:
    """Compare how often something is so before and after a match clock (`at="60:00"`) or a substitution (`player`).

    Raises
    ------
    TacticalKitError
        Neither or both of `at` and `player`; see also `compare`.
    """
    if (at is None) == (player is None):
        raise TacticalKitError("before and after what? Give at, as '60:00', or player, who came on or went off.")
    split = split_by_minute(match, at) if at is not None else split_by_substitution(match, str(player))
    return compare(moments, of, split, match=match, **options)
