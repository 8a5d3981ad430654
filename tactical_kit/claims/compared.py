"""What comparisons share: two groups, the change from one to the other, and whether chance could have made it."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tactical_kit.claims.base import counted
from tactical_kit.claims.interval import Interval, percent
from tactical_kit.claims.splits import Split
from tactical_kit.claims.verdict import COUNTED, NO_INSTANCES, NOT_BORNE, SUPPORTED, TOO_FEW, UNDECIDED, Verdict
from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.moments import Moments

__all__ = [
    "COULD_BE_CHANCE", "SELDOM_CHANCE", "Compared", "Group", "change_words", "check_labels", "claimed_words",
    "direction_of", "judge_difference", "round_words", "span_words", "too_few",
]  # fmt: skip

COULD_BE_CHANCE = "A difference this size could be chance."
SELDOM_CHANCE = "Chance alone would seldom make a difference this large."


@dataclass(frozen=True, eq=False)
class Group:
    """One of two groups that are compared.

    Parameters
    ----------
    name : str
        "second half".
    phrase : str
        As it stands in a sentence: "in the second half".
    moments, of : Moments
        The instances that count, and all of the group.
    value : float
        Its share, mean or rate; NaN without instances.
    """

    name: str
    phrase: str
    moments: Moments
    of: Moments
    value: float

    @property
    def count(self) -> int:
        """How many instances count."""
        return len(self.moments)

    @property
    def base(self) -> int:
        """How many instances there are."""
        return len(self.of)


@dataclass(frozen=True, eq=False)
class Compared:
    """What all comparisons share: two groups, a difference, an interval, a verdict."""

    text: str
    first: Group
    second: Group
    interval: Interval | None
    verdict: Verdict

    @property
    def difference(self) -> float:
        """The change from the first group to the second: second less first; NaN where a group is empty."""
        return self.second.value - self.first.value

    @property
    def could_be_chance(self) -> bool | None:
        """True where a difference this size could be chance, False where it seldom would; None: too few to say."""
        if self.verdict.status in (TOO_FEW, NO_INSTANCES):
            return None
        return not self._clear()

    def _clear(self) -> bool:
        return self.interval is not None and 0 not in self.interval

    @property
    def holds(self) -> bool:
        """True if this match bears what was claimed; see `Verdict.holds`."""
        return self.verdict.holds

    @property
    def moment_ids(self) -> tuple[str, ...]:
        """Ids of the moments that count, of both groups."""
        return (*self.first.moments.table["moment_id"], *self.second.moments.table["moment_id"])

    @property
    def base_ids(self) -> tuple[str, ...]:
        """Ids of all the moments of both groups."""
        return (*self.first.of.table["moment_id"], *self.second.of.table["moment_id"])

    @property
    def numbers(self) -> str:
        """The counts or means of both groups, and the difference with its interval."""
        raise NotImplementedError

    @property
    def notes(self) -> tuple[str, ...]:
        """What else the reader should know."""
        return ()

    @property
    def sentence(self) -> str:
        """The claim with its numbers and whether it could be chance, ready to publish."""
        head = f"{' '.join(self.text.split()).removesuffix('.')}: " if self.text else ""
        return f"{head}{self.numbers}. {self.verdict.words}"

    def _lines(self) -> list[str]:
        head = [" ".join(self.text.split()).removesuffix(".")] if self.text else []
        return [*head, f"{self.numbers}.", self.verdict.words, *self.notes]

    def __str__(self) -> str:
        return "\n".join(self._lines())

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        first, *rest = self._lines()
        return f"<div><b>{html.escape(first)}</b>" + "".join(f"<div>{html.escape(r)}</div>" for r in rest) + "</div>"

    def to_dict(self) -> dict[str, object]:
        """Return the numbers, words and ids as plain values."""
        return {
            "text": self.text, "first": self.first.name, "second": self.second.name,
            "first_value": self.first.value, "second_value": self.second.value, "difference": self.difference,
            "low": self.interval.low if self.interval else float("nan"),
            "high": self.interval.high if self.interval else float("nan"),
            "verdict": self.verdict.status, "holds": self.holds, "sentence": self.sentence,
            "moment_ids": self.moment_ids, "base_ids": self.base_ids,
        }  # fmt: skip


def round_words(value: float, apart_from: Iterable[float] = (0.0,), decimals: int | None = None) -> str:
    """Write a number so that three figures can be read, never as 1e+02, nor as a number it is to be kept apart from.

    >>> round_words(41.84), round_words(-0.004), round_words(1.003, [1.0])
    ('41.8', '-0.004', '1.003')
    """
    value = round(value, 9) + 0.0  # no noise of floats, no -0
    if decimals is None:
        decimals = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    for more in range(decimals, 10):
        text = f"{value:.{more}f}"
        if all(value == mark or (float(text) - mark) * (value - mark) > 0 for mark in apart_from):
            return text
    return text


def unit_word(unit: str, value: str) -> str:
    if unit == "point":
        return " point" if value == "1" else " points"
    return f" {unit}" if unit else ""


def span_words(interval: Interval, unit: str, write: Callable[[float], str]) -> str:
    """Return the interval of a change in words: "4 to 44 points more", "14 points less to 2 points more"."""
    low, high = interval.low, interval.high
    if low >= 0 or high <= 0:
        small, large = sorted((abs(low), abs(high)))
        return f"{write(small)} to {write(large)}{unit_word(unit, write(large))} {'more' if low >= 0 else 'less'}"
    less, more = (f"{write(v)}{unit_word(unit, write(v))}" for v in (low, high))
    return f"{less} less to {more} more"


def change_words(difference: float, interval: Interval, phrase: str, unit: str, write: Callable[[float], str]) -> str:
    """Return a change with its interval in words: "25 points less in the second half (95 % interval ...)"."""
    if difference == 0:
        head = f"no difference {phrase}"
    else:
        value = write(difference)
        head = f"{value}{unit_word(unit, value)} {'more' if difference > 0 else 'less'} {phrase}"
    return f"{head} ({percent(interval.level)} % interval {span_words(interval, unit, write)})"


def judge_difference(
    clear: bool, difference: float, direction: int, claimed: str, few: str = "", none: str = ""
) -> Verdict:
    """Judge a difference by whether chance could have made it.

    Parameters
    ----------
    clear : bool
        The interval leaves 0 out (and, for means, the permutation test agrees).
    difference : float
        Second less first.
    direction : int
        +1: the second group was claimed to have more, -1: less, 0: nothing was claimed.
    claimed : str
        What was claimed, in words: "more in the second half".
    few, none : str
        Why there are too few instances, or none; "" if there are enough.
    """
    if none:
        return Verdict(NO_INSTANCES, none)
    fits = direction != 0 and direction * difference > 0
    if few:
        return Verdict(TOO_FEW, few, fits)
    if direction == 0:
        return Verdict(COUNTED, SELDOM_CHANCE if clear else COULD_BE_CHANCE)
    if not clear:
        side = "the difference points that way" if fits else "the difference does not even point that way"
        return Verdict(UNDECIDED, f"“{claimed}” cannot be decided: {side}. {COULD_BE_CHANCE}", fits)
    if fits:
        return Verdict(SUPPORTED, f"“{claimed}” is supported. {SELDOM_CHANCE}", True)
    return Verdict(NOT_BORNE, f"“{claimed}” is not borne: it is the other way round. {SELDOM_CHANCE}")


def too_few(
    groups: Sequence[Group], few: int, possession: Sequence[NDArray[Any] | None] | None = None
) -> tuple[str, str]:
    """Return why there are too few instances, and why there are none; "" where there are enough.

    `possession` holds the labels of either group: instances from fewer than `few` possessions are few as well.
    """
    empty = [g.phrase for g in groups if g.base == 0]
    if empty:
        return "", f"No instances {' and none '.join(empty)}: there is nothing to compare."
    small = []
    for g, labels in zip(groups, possession or [None] * len(groups)):
        spells = g.base if labels is None else len(np.unique(labels))
        if g.base < few:
            small.append(f"{counted(g.base, 'instance')} {g.phrase}")
        elif spells < few:
            small.append(f"{counted(g.base, 'instance')} from only {counted(spells, 'possession')} {g.phrase}")
    return (f"Too few to compare: {', '.join(small)}, fewer than {few}." if small else ""), ""


def direction_of(more: str | None, less: str | None, split: Split, first: str, second: str) -> int:
    """Return +1 if more is claimed of the second group, -1 of the first, 0 if nothing is."""
    if more is not None and less is not None:
        raise TacticalKitError("more and less are both given; name the group that has more, or the one that has less.")
    name = more if more is not None else less
    if name is None:
        return 0
    group = name if name in (first, second) else split.find(name)
    check_choice("group", group, (first, second))
    return (1 if group == second else -1) * (1 if more is not None else -1)


def claimed_words(more: str | None, less: str | None, direction: int, groups: Sequence[Group], word: str) -> str:
    """Return what was claimed in words: "less often in the second half"."""
    named = groups[1] if (direction > 0) == (more is not None) else groups[0]
    return f"{'more' if more is not None else 'less'} {word}{named.phrase}"


def check_labels(labels: NDArray[Any], of: Moments) -> None:
    """Refuse labels that are not one an instance."""
    if len(labels) != len(of):
        raise TacticalKitError(f"{len(labels)} labels of possessions for {len(of)} instances; one each.")
