"""What a count says about a claim: supported, not borne, undecided, or too few instances to tell."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tactical_kit.claims.interval import Interval, percent
from tactical_kit.claims.words import ShareWord

__all__ = [
    "CANNOT_CHECK", "COUNTED", "FEW", "NOT_BORNE", "NO_INSTANCES", "STATUSES", "SUPPORTED", "TOO_FEW", "UNDECIDED",
    "Verdict", "judge_share",
]  # fmt: skip

SUPPORTED = "supported"
NOT_BORNE = "not borne"
UNDECIDED = "undecided"
TOO_FEW = "too few"
NO_INSTANCES = "no instances"
COUNTED = "counted"  # no word was claimed
CANNOT_CHECK = "cannot be checked"  # the match lacks the data
STATUSES = (SUPPORTED, UNDECIDED, NOT_BORNE, TOO_FEW, NO_INSTANCES, COUNTED, CANNOT_CHECK)
FEW = 10  # fewer instances than this are called few; common practice, no source


@dataclass(frozen=True)
class Verdict:
    """What the data say about a claim.

    Parameters
    ----------
    status : str
        "supported": the whole interval lies in the range of the word.
        "not borne": the whole interval lies outside it.
        "undecided": the interval lies partly inside; `fits` says on which side the share itself is.
        "too few": fewer instances (or possessions they come from) than the least; nothing is concluded.
        "no instances": nothing to count.
        "counted": no word was claimed.
        "cannot be checked": the match lacks the data.
    words : str
        The reason, as a sentence.
    fits : bool
        Whether the share (or the difference) itself is one that the claim stands for.
    """

    status: str
    words: str
    fits: bool = False

    @property
    def holds(self) -> bool:
        """True if this match bears the claim: it is supported, or the share itself fits and nothing speaks against it.

        An undecided claim whose share fits is a true description of this match; whether the sides would
        play so again is what the interval leaves open.
        """
        return self.status == SUPPORTED or (self.status == UNDECIDED and self.fits)


def judge_share(
    count: int,
    base: int,
    interval: Interval | None,
    word: ShareWord | None,
    words: Iterable[ShareWord] = (),
    few: int = FEW,
    possessions: int | None = None,
) -> Verdict:
    """Judge a word for how often by a count and its interval.

    Parameters
    ----------
    count, base : int
        How many of how many.
    interval : Interval or None
        Of the share; None without instances.
    word : ShareWord or None
        The word that is claimed; None: none is, and the verdict names those that the interval supports.
    words : iterable of ShareWord
        Those that may be named then.
    few : int, default 10
        Fewer instances than this are too few to judge.
    possessions : int, optional
        How many possessions the instances come from; fewer than `few` are too few as well.

    Notes
    -----
    The interval is read as the shares that the data are compatible with.  All of them in the range of the word:
    supported.  None: not borne.  Some: undecided, however near the share itself is to the middle of the range.
    "Always" and "never" speak of the instances of this match: one counterexample is enough against them.
    Source: common practice, no source.
    """
    if base == 0 or interval is None:
        return Verdict(NO_INSTANCES, "There is nothing to count, so nothing can be said.")
    share = count / base
    if word is not None and word.exact and not word.fits(share):
        return _judge_exact(count, base, interval, word)  # a counterexample is one, however few they are
    if base < few or (possessions is not None and possessions < few):
        met = f"{base} {'instance' if base == 1 else 'instances'}"
        if base >= few:
            met += f" from only {possessions} {'possession' if possessions == 1 else 'possessions'}"
        what = f"“{word.word}”" if word else "anything"
        return Verdict(TOO_FEW, f"Too few to judge {what}: {met}, fewer than {few}.", bool(word and word.fits(share)))
    if word is None:
        borne = [w for w in words if judge_share(count, base, interval, w).status == SUPPORTED]
        said = "it supports " + ", ".join(map(str, borne)) if borne else "it supports none of the words"
        return Verdict(COUNTED, f"No word for how often was claimed; {said}.")
    if word.exact:
        return _judge_exact(count, base, interval, word)
    marks = (word.low, word.high)
    if interval.within(word.low, word.high) and word.fits(interval.low):
        return Verdict(SUPPORTED, f"{word} is supported: the whole interval, {interval.reach(marks)}, fits.", True)
    if interval.high < word.low or interval.low > word.high or (word.more_than and interval.high == word.low):
        return Verdict(NOT_BORNE, f"{word} is not borne: the whole interval, {interval.reach(marks)}, lies outside.")
    fits = word.fits(share)
    if fits:
        ends = [f"down to {percent(interval.low, marks)} %"] if not word.fits(max(interval.low, 0.0)) else []
        ends += [f"up to {percent(interval.high, marks)} %"] if interval.high > word.high else []
        why = f"{percent(share, marks)} % fits, but the interval reaches {' and '.join(ends)}"
    else:
        way, reached = ("up", interval.high) if share <= word.low else ("down", interval.low)
        end = f"{way} to {percent(reached, marks)} %"
        why = f"{percent(share, marks)} % does not fit, but the interval reaches {end}"
    return Verdict(UNDECIDED, f"{word} cannot be decided: {why}.", fits)


def _judge_exact(count: int, base: int, interval: Interval, word: ShareWord) -> Verdict:
    against = base - count if word.low == 1 else count
    if against:
        many = "1 instance speaks" if against == 1 else f"{against} instances speak"
        return Verdict(NOT_BORNE, f"{word} is not borne: {many} against it.")
    end = f"down to {percent(interval.low)}" if word.low == 1 else f"up to {percent(interval.high)}"
    return Verdict(
        SUPPORTED,
        f"{word} is true of all {base} instances of this match; beyond it the interval reaches {end} %.",
        True,
    )
