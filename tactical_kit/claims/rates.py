"""How often something happens in 30 minutes of having, or not having, the ball, compared between two spells of time."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta

from tactical_kit.claims.base import check_part, counted, possessions_of
from tactical_kit.claims.compared import Compared, Group, claimed_words, direction_of, judge_difference, round_words
from tactical_kit.claims.interval import Interval, check_level, percent
from tactical_kit.claims.splits import Split, two_groups
from tactical_kit.claims.verdict import FEW
from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.finders.context import find_possessions
from tactical_kit.match import Match
from tactical_kit.moments import Moments

__all__ = ["PER_S", "TIMES", "RateComparison", "compare_rates", "ratio_interval", "seconds_by_group"]

PER_S = 1800.0  # rates are told in 30 minutes: about what a side has of the ball, or has not, in a match
TIMES = ("in possession", "out of possession", "in play")
LEAST_S = 300.0  # less time than this is too little for a rate


@dataclass(frozen=True, eq=False, repr=False)
class RateComparison(Compared):
    """Two rates compared.  Made by `compare_rates`; values in 30 minutes, `interval` of the ratio second by first."""

    seconds: tuple[float, float] = (0.0, 0.0)
    time: str = "in possession"
    possessions: int | None = None

    @property
    def ratio(self) -> float:
        """How many times as often in the second group as in the first; NaN where both have none."""
        if self.first.value == 0:
            return math.inf if self.second.value > 0 else math.nan
        return self.second.value / self.first.value

    def _clear(self) -> bool:
        return self.interval is not None and 1 not in self.interval

    @property
    def numbers(self) -> str:
        """Both counts, minutes and rates, and the ratio with its interval."""
        parts = [
            f"{g.name} {g.count} in {s / 60:.1f} min {self.time}" + (f", {g.value:.1f} in 30 min" if s else "")
            for g, s in zip((self.first, self.second), self.seconds)
        ]
        text = "; ".join(parts)
        if self.interval is None or math.isnan(self.ratio):
            return text
        head = (
            f"{_times(self.ratio)} as often {self.second.phrase}"
            if math.isfinite(self.ratio)
            else f"none {self.first.phrase}"
        )
        low, high = self.interval.low, self.interval.high
        span = f"{_figure(low)} to {_times(high)}" if math.isfinite(high) else f"{_times(low)} or more"
        return f"{text}: {head} ({percent(self.interval.level)} % interval {span})"

    @property
    def notes(self) -> tuple[str, ...]:
        """That counts from one possession are no independent witnesses."""
        count = self.first.count + self.second.count
        if self.possessions in (None, count):
            return ()
        spells = counted(int(self.possessions or 0), "possession")
        return (
            f"{counted(count, 'moment')} came in {spells}; those of one depend on each other, and the interval is "
            "widened for it.",
        )


def _figure(value: float) -> str:
    # Rounding never makes it "as often", nor never.
    return round_words(value, (0.0, 1.0), 2 if value < 10 else 0)


def _times(value: float) -> str:
    return f"{_figure(value)} times"


def ratio_interval(
    first: int, first_s: float, second: int, second_s: float, level: float = 0.95, together: float = 1.0
) -> Interval:
    """Return the exact interval of how many times as often something happens in the second spell as in the first.

    Parameters
    ----------
    first, second : int
        How often it happened.
    first_s, second_s : float
        In how much time, s.
    level : float, default 0.95
        At least this share of such intervals holds the true ratio.
    together : float, default 1
        How many instances stand for one witness: the variance of their number by their number, as for those that come
        in bundles.

    Returns
    -------
    Interval
        Of the ratio; its end is infinite where the first spell has none.

    Notes
    -----
    Given how many there were in all, the number in the second spell is binomial.  Source: the conditional test of two
    Poisson rates with the interval of Clopper & Pearson, common practice; for bundles with both counts divided by
    `together`, as for an overdispersed Poisson number (McCullagh & Nelder 1989, from memory).
    """
    if first + second == 0 or first_s <= 0 or second_s <= 0:
        raise TacticalKitError("a ratio of rates needs at least one instance, and time in both groups.")
    tail, one, two = (1 - check_level(level)) / 2, first / together, second / together
    low = float(beta.ppf(tail, two, one + 1)) if second else 0.0
    high = float(beta.ppf(1 - tail, two + 1, one)) if first else 1.0

    def ratio(p: float) -> float:
        return math.inf if p >= 1 else p / (1 - p) * first_s / second_s

    return Interval(ratio(low), ratio(high), level)


def seconds_by_group(match: Match, team: str, split: Split, time: str = "in possession") -> dict[str, float]:
    """Return how many seconds a side had the ball (or not) in each group of a split.

    Parameters
    ----------
    match : Match
        With events or tracking.
    team : str
        The side: id, name, "home" or "away".
    split : Split
        One that splits time: by halves, score, minute or substitution.
    time : str, default "in possession"
        Or "out of possession", or "in play" (the ball is live).
    """
    check_choice("time", time, TIMES)
    if split.time is None:
        raise TacticalKitError("time cannot be split so; expected halves, score, a minute or a substitution.")
    own = match.team(team).team_id
    spells = find_possessions(match).table
    if time != "in play":
        spells = spells[(spells["team"] == own) == (time == "in possession")]
    period, start, end = (spells[c].to_numpy() for c in ("period", "start_s", "end_s"))
    total: dict[str, float] = {}
    for number in np.unique(period):
        cuts = [0.0, *sorted(t for p, t in split.cuts if p == number), math.inf]
        for low, high in itertools.pairwise(cuts):
            mine = period == number
            part = np.clip(end[mine], low, high) - np.clip(start[mine], low, high)
            seconds = float(part.sum())
            if seconds > 0:
                # Just after the cut: between two cuts the name does not change.
                name = str(split.time(np.array([number]), np.array([low + 1e-6]), own)[0])
                total[name] = total.get(name, 0.0) + seconds
    return total


def compare_rates(
    match: Match,
    moments: Moments,
    by: Split,
    *,
    team: str | None = None,
    time: str = "in possession",
    first: str | None = None,
    second: str | None = None,
    more: str | None = None,
    less: str | None = None,
    text: str = "",
    few: int = FEW,
    level: float = 0.95,
    least_s: float = LEAST_S,
) -> RateComparison:
    """Compare how often something happens in 30 minutes of having the ball, between halves, scores, before and after.

    Parameters
    ----------
    match : Match
        With events or tracking.
    moments : Moments
        What is counted, of one side.
    by : Split
        One that splits time: `split_by_halves()`, `split_by_score(match)`, `split_by_minute(match, "60:00")`,
        `split_by_substitution(match, player)`.
    team : str, optional
        Whose time with the ball counts; by default the side of the moments.
    time : str, default "in possession"
        What time counts: "in possession", "out of possession" or "in play".
    first, second, more, less, text, few, level
        As in `compare`; fewer than `few` moments (or possessions they come from) in both groups together are too few.
    least_s : float, default 300
        Less time than this in a group is too little, s.

    Returns
    -------
    RateComparison
        Values in 30 minutes; `.ratio`, its `.interval`, `.could_be_chance`, `.sentence`.

    Raises
    ------
    TacticalKitError
        Moments of both sides without `team`; a split that is not one of time.

    Notes
    -----
    A side that had more of the ball had more occasions: counts are compared for equal time.  Moments of one possession
    depend on each other, and the interval is widened as if they came in bundles.  Source: common practice.
    """
    check_part(moments, moments, ("moments", "moments"))
    sides = sorted(set(moments.table["team"]))
    if team is None and len(sides) > 1:
        raise TacticalKitError(f"a rate is of one side; the moments are of {' and '.join(sides)}. Name one as team.")
    side = match.team(team).team_id if team is not None else sides[0] if sides else match.home.team_id
    seconds = seconds_by_group(match, side, by, time)
    own = moments.where(team=side)
    one, two, labels = two_groups(by, by.label(own), first, second)
    rest = sum(s for name, s in seconds.items() if name not in ("", one, two))
    groups, spent = [], []
    for name in (one, two):
        part = own.where(labels == name)
        in_group = seconds.get(name, 0.0) if name in by.names else rest
        spent.append(in_group)
        rate = len(part) / in_group * PER_S if in_group else float("nan")
        groups.append(Group(name, by.phrases(name), part, part, rate))
    a, b = groups
    spells = possessions_of(own.where((labels == one) | (labels == two)), match)
    possessions = None if spells is None else len(np.unique(spells))
    interval = None
    if a.count + b.count and min(spent) > 0:
        interval = ratio_interval(a.count, spent[0], b.count, spent[1], level, _together(spells))
    many = counted(a.count + b.count, "instance")
    if possessions is not None and possessions < few <= a.count + b.count:
        many += f" from only {counted(possessions, 'possession')}"
    small = [f"{s / 60:.1f} min {g.phrase}" for g, s in zip(groups, spent) if s < least_s]
    reason = none = ""
    if a.count + b.count == 0:
        none = "No instances: there is nothing to compare."
    elif a.count + b.count < few or (possessions is not None and possessions < few):
        reason = f"Too few to compare: {many}, fewer than {few}."
    elif small:
        reason = f"Too little time to compare: {', '.join(small)} {time}, less than {least_s / 60:g} min."
    direction = direction_of(more, less, by, one, two)
    clear = interval is not None and 1 not in interval
    claimed = claimed_words(more, less, direction, groups, "often ")
    verdict = judge_difference(clear, b.value - a.value, direction, claimed, reason, none)
    return RateComparison(text, a, b, interval, verdict, (spent[0], spent[1]), time, possessions)


def _together(spells: NDArray[np.int64] | None) -> float:
    """How many moments stand for one witness, of the possession of each: 1 where no two share one."""
    if spells is None:
        return 1.0
    sizes = np.unique(spells, return_counts=True)[1]
    return float((sizes**2).sum() / sizes.sum())
