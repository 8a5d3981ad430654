"""Splitting moments, and the time of a match, into groups that are compared: halves, scores, before and after."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.claims.base import instants
from tactical_kit.claims.conditions import column_values
from tactical_kit.errors import TacticalKitError, UnknownNameError, check_choice
from tactical_kit.match import Match
from tactical_kit.match.clock import PERIOD_NAMES
from tactical_kit.measures.instants import FAR, goals_of, score_codes
from tactical_kit.measures.words import PHASES, SCORE_STATES
from tactical_kit.moments import Moments

__all__ = [
    "Split", "as_split", "split_by_column", "split_by_halves", "split_by_labels", "split_by_minute", "split_by_phase",
    "split_by_player", "split_by_score", "split_by_substitution", "split_for",
    "two_groups",
]  # fmt: skip

Labels = NDArray[np.object_]
TimeLabels = Callable[[NDArray[np.int64], NDArray[np.float64], str], Labels]


@dataclass(frozen=True)
class Split:
    """A way to split moments into groups.

    Parameters
    ----------
    names : tuple of str
        The groups, in the order they are told in.
    label : callable
        Moments -> one name a moment, "" for none of the groups.
    phrases : callable
        Name -> how it stands in a sentence: "in the second half".
    time : callable, optional
        (period, second, team id) -> names; there where the time of a match can be split as well.
    cuts : tuple of (period, second)
        Instants at which the name of the time may change within a period.
    """

    names: tuple[str, ...]
    label: Callable[[Moments], Labels]
    phrases: Callable[[str], str] = str
    time: TimeLabels | None = None
    cuts: tuple[tuple[int, float], ...] = ()

    def find(self, name: str) -> str:
        """Return the group that a name means; its first words are enough where only one begins so."""
        if name in self.names:
            return name
        begun = [n for n in self.names if n.startswith(f"{name} ")]
        return begun[0] if len(begun) == 1 else check_choice("group", name, self.names)


def _by_time(
    names: tuple[str, ...], time: TimeLabels, phrases: Callable[[str], str], cuts: tuple[tuple[int, float], ...] = ()
) -> Split:
    def label(moments: Moments) -> Labels:
        period, time_s = instants(moments)
        result = np.full(len(moments), "", dtype=object)
        team = moments.table["team"].to_numpy(object)
        for one in dict.fromkeys(team):
            rows = team == one
            result[rows] = time(period[rows], time_s[rows], str(one))
        return result

    return Split(names, label, phrases, time, cuts)


def split_by_halves() -> Split:
    """First half against second half; extra time is in neither."""
    names = (PERIOD_NAMES[1], PERIOD_NAMES[2])

    def time(period: NDArray[np.int64], _: NDArray[np.float64], __: str) -> Labels:
        return np.select([period == 1, period == 2], list(names), default="").astype(object)

    return _by_time(names, time, lambda name: f"in the {name}")


def split_by_score(match: Match) -> Split:
    """Leading, level or trailing, as the side of the moment sees it; a goal counts for what comes after it."""
    goals = goals_of(match)
    if goals is None:
        match.need_events("The score")

    def time(period: NDArray[np.int64], time_s: NDArray[np.float64], team: str) -> Labels:
        if team not in (match.home.team_id, match.away.team_id):
            return np.full(len(period), "", dtype=object)
        codes = score_codes(goals, period, time_s)[:, match.team_index(team)]
        return np.array(SCORE_STATES, dtype=object)[codes]

    keys = np.concatenate(goals) if goals else np.empty(0)
    cuts = tuple((int(k // FAR), float(k % FAR)) for k in np.sort(keys))
    return _by_time(SCORE_STATES, time, lambda name: f"when {name}", cuts)


def _before_after(period: int, time_s: float, names: tuple[str, str]) -> Split:
    def time(periods: NDArray[np.int64], seconds: NDArray[np.float64], _: str) -> Labels:
        after = (periods > period) | ((periods == period) & (seconds >= time_s))
        return np.where(after, names[1], names[0]).astype(object)

    return _by_time(names, time, str, ((period, time_s),))


def split_by_minute(match: Match, at: str) -> Split:
    """Before a match clock, as "60:00", against from then on."""
    return _before_after(*match.clock.parse(at), (f"before {at}", f"after {at}"))


def split_by_substitution(match: Match, player: str) -> Split:
    """Before a player came on (or went off) against from then on.

    Raises
    ------
    UnknownNameError
        A player of neither squad, or one who was not substituted.
    """
    events = match.need_events("A substitution")
    who = match.player(player)
    subs = events[events["kind"] == "substitution"]
    mine = subs[(subs["receiver"] == who.player_id) | (subs["player"] == who.player_id)]
    if not len(mine):
        ids = dict.fromkeys([*subs["receiver"], *subs["player"]])
        known = ", ".join(match.players[i].name for i in ids if i in match.players)
        raise UnknownNameError(f"{who.name} neither came on nor went off; substitutions were of {known or 'nobody'}.")
    row = mine.iloc[0]
    went = "came on" if row["receiver"] == who.player_id else "went off"
    names = (f"before {who.name} {went}", f"after {who.name} {went}")
    return _before_after(int(row["period"]), float(row["time_s"]), names)


def split_by_player(match: Match, player: str) -> Split:
    """The moments that a player takes part in against those without him."""
    who = match.player(player)
    names = (f"with {who.name}", f"without {who.name}")

    def label(moments: Moments) -> Labels:
        there = [who.player_id in players for players in moments.table["players"]]
        return np.where(np.array(there, bool), *names).astype(object)

    return Split(names, label)


def split_by_phase(match: Match) -> Split:
    """The phase of the side when the moment begins."""
    return Split(
        PHASES,
        lambda moments: column_values(moments, "phase", match).to_numpy(object),
        lambda name: f"in {name}" if name in PHASES else f"in other phases than {name.removeprefix('not ')}",
    )


def split_by_column(moments: Moments, column: str, match: Match | None = None) -> Split:
    """The values of a column, yes and no for one that holds those."""
    values = column_values(moments, column, match)
    if pd.api.types.is_float_dtype(values) or values.dtype == object:
        raise TacticalKitError(f"{column} has no few values to compare; expected one of words, counts, or yes or no.")

    def named(part: Moments) -> Labels:
        found = column_values(part, column, match)
        if pd.api.types.is_bool_dtype(found):
            return np.array(["" if pd.isna(v) else "yes" if v else "no" for v in found], dtype=object)
        return np.array([str(v) for v in found], dtype=object)

    names = tuple(sorted({str(v) for v in named(moments)} - {""}))
    return Split(names, named, lambda name: f"where {column} is {name}")


def split_by_labels(moments: Moments, labels: ArrayLike) -> Split:
    """Labels of your own, one a moment; "" or None for a moment in no group."""
    if np.ndim(labels) != 1:
        raise TacticalKitError(
            f"by is {labels!r}; expected one of the split_by_... functions, the name of a column, or a label for each "
            "moment."
        )
    given = np.array(["" if pd.isna(v) else str(v) for v in np.asarray(labels, dtype=object)], dtype=object)
    if len(given) != len(moments):
        raise TacticalKitError(f"{len(given)} labels for {len(moments)} moments; expected one each.")
    by_id = dict(zip(moments.table["moment_id"], given))
    names = tuple(n for n in dict.fromkeys(given) if n)
    return Split(names, lambda part: np.array([by_id[i] for i in part.table["moment_id"]], dtype=object))


def two_groups(split: Split, labels: Labels, first: str | None, second: str | None) -> tuple[str, str, Labels]:
    """Return the names of the two groups to compare, and the labels; what is in neither has the label "".

    With one name given the other group is all the rest.
    """
    if first is None and second is None:
        there = [n for n in split.names if (labels == n).any()] if len(split.names) > 2 else list(split.names)
        if len(there) != 2:
            raise TacticalKitError(
                f"there are {len(there)} groups, {', '.join(map(repr, there)) or 'none'}; say which two to compare, "
                "as first and second, or one of them to compare with the rest."
            )
        return there[0], there[1], labels
    one = split.find(first if first is not None else str(second))
    if first is None or second is None:
        others = [n for n in split.names if n != one]
        if len(others) == 1:
            pair = (one, others[0]) if first is not None else (others[0], one)
            return *pair, labels
        rest = f"not {one}"
        labels = np.where((labels == one) | (labels == ""), labels, rest).astype(object)
        return (one, rest, labels) if first is not None else (rest, one, labels)
    other = split.find(second)
    if other == one:
        raise TacticalKitError(f"{one!r} is compared with itself; expected another group.")
    return one, other, labels


def as_split(by: Split | str | ArrayLike, of: Moments, match: Match | None) -> Split:
    """Return the split that `by` means: a split, a column of the moments, or labels."""
    if isinstance(by, Split):
        return by
    return split_by_column(of, by, match) if isinstance(by, str) else split_by_labels(of, by)


def split_for(by: str, keys: dict[str, str], moments: Moments, match: Match) -> Split:
    """Return the split of a comparison of a claim sheet."""
    if by == "halves":
        return split_by_halves()
    if by == "score":
        return split_by_score(match)
    if by == "minute":
        return split_by_minute(match, keys["at"])
    if by == "substitution":
        return split_by_substitution(match, keys["player"])
    if by == "player":
        return split_by_player(match, keys["player"])
    if by == "phase":
        return split_by_phase(match)
    return split_by_column(moments, keys["column"], match)
