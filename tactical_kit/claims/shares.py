"""A claim: how many of how many, the interval, and whether the data bear the word that was used."""

from __future__ import annotations

import html
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.claims.base import check_part, counted, moment_labels, possessions_of
from tactical_kit.claims.interval import Interval, percent, wilson_interval
from tactical_kit.claims.resample import DRAWS, Resampled, resampled_share
from tactical_kit.claims.verdict import FEW, Verdict, judge_share
from tactical_kit.claims.words import ShareWord, contradicted, share_word, word_in, word_table
from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match
from tactical_kit.moments import Moments

__all__ = ["Claim", "claim"]

_SHOWN = 12  # counterexamples named in a text


@dataclass(frozen=True, eq=False)
class Claim:
    """A claim about a match, with what speaks for it and against it.  Made by `claim`.

    Parameters
    ----------
    text : str
        The claim in words.
    moments, of : Moments
        The instances that it is true of, and all of them.
    word : ShareWord or None
        The word for how often, with its range.
    interval : Interval or None
        Wilson's; None without instances.
    resampled : Resampled or None
        The interval from drawing possessions, where several instances come from one and the match is known.
    verdict : Verdict
        What the data say.
    clock_labels : tuple of str
        The match clock of each moment of `of`, or its id where the match is not known.
    """

    text: str
    moments: Moments
    of: Moments
    word: ShareWord | None
    interval: Interval | None
    resampled: Resampled | None
    verdict: Verdict
    clock_labels: tuple[str, ...] = ()

    @property
    def count(self) -> int:
        """How many instances the claim is true of."""
        return len(self.moments)

    @property
    def base(self) -> int:
        """How many instances there are."""
        return len(self.of)

    @property
    def share(self) -> float:
        """The share, from 0 to 1; NaN without instances."""
        return self.count / self.base if self.base else float("nan")

    @property
    def moment_ids(self) -> tuple[str, ...]:
        """Ids of the moments that the claim is true of."""
        return tuple(self.moments.table["moment_id"])

    @property
    def base_ids(self) -> tuple[str, ...]:
        """Ids of all the moments that were looked at."""
        return tuple(self.of.table["moment_id"])

    @property
    def judged_on(self) -> Interval | None:
        """The interval that the verdict rests on: the wider of Wilson's and the resampled one, at either end."""
        return self.interval.around(self.resampled.interval if self.resampled else None) if self.interval else None

    @property
    def holds(self) -> bool:
        """True if this match bears the claim; see `Verdict.holds`."""
        return self.verdict.holds

    def _against(self) -> NDArray[np.bool_]:
        """Which of the instances speak against the claim; see `ShareWord.against`."""
        inside = self.of.table["moment_id"].isin(self.moments.table["moment_id"]).to_numpy(bool)
        which = self.word.against(self.share) if self.word and self.base else "without"
        return inside if which == "with" else ~inside if which == "without" else np.zeros(len(inside), bool)

    @property
    def counterexamples(self) -> Moments:
        """The instances that speak against the claim: for "seldom" and its kind those with it, else those without.

        For a word of a middle share, as "half the time": those of which there are too many.
        """
        return self.of.where(self._against())

    @property
    def numbers(self) -> str:
        """The count, the share and the interval: "31 of 37, 84 %, 95 % interval 69-92 %"."""
        if self.interval is None or self.judged_on is None:
            return "no instances"
        text = f"{self.count} of {self.base}, {percent(self.share, self._marks)} %"
        # The published interval is the one that the verdict rests on.
        return f"{text}, {self.judged_on.words(self._marks)}"

    @property
    def _marks(self) -> tuple[float, ...]:
        return (self.word.low, self.word.high) if self.word else ()

    @property
    def sentence(self) -> str:
        """The claim with its numbers and a fair word on what they bear, ready to publish."""
        return f"{_stopped(self.text)}: {self.numbers}. {self.verdict.words}"

    @property
    def dependence_matters(self) -> bool:
        """True where drawing possessions moves an end of the interval outwards by a point or more."""
        if self.resampled is None or self.interval is None:
            return False
        drawn = self.resampled.interval
        return max(self.interval.low - drawn.low, drawn.high - self.interval.high) >= 0.01

    @property
    def dependence(self) -> str:
        """What it matters that several instances come from one possession; "" where none do or it is not known."""
        if self.resampled is None or self.interval is None:
            return ""
        drawn = self.resampled.interval
        head = (
            f"{counted(self.base, 'instance')} from {counted(self.resampled.possessions, 'possession')} (up to "
            f"{self.resampled.largest} from one) depend on each other: drawing possessions gives {drawn.reach()}"
        )
        if self.dependence_matters:
            return f"{head}, single instances give {self.interval.reach()}; at either end the wider one counts."
        return f"{head}, which changes nothing here (single instances: {self.interval.reach()})."

    def __str__(self) -> str:
        against = [label for label, is_one in zip(self.clock_labels, self._against()) if is_one]
        lines = [_stopped(self.text), self.numbers, self.verdict.words]
        if self.dependence:
            lines.append(self.dependence)
        if against and self.word is not None:
            more = f" and {len(against) - _SHOWN} more" if len(against) > _SHOWN else ""
            lines.append(f"{counted(len(against), 'counterexample')}: {', '.join(against[:_SHOWN])}{more}")
        return "\n".join(lines)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        rows = [
            f"<b>{html.escape(_stopped(self.text))}</b>",
            html.escape(self.numbers),
            html.escape(self.verdict.words),
        ]
        if self.dependence:
            rows.append(f"<small>{html.escape(self.dependence)}</small>")
        against = self._against()
        if against.any() and self.word is not None:
            ids = self.of.table["moment_id"].to_numpy()[against]
            labels = [label for label, is_one in zip(self.clock_labels, against) if is_one]
            items = "".join(
                f'<li data-moment="{html.escape(i, quote=True)}">{html.escape(label)}'
                + (f" <small>{html.escape(i)}</small>" if i != label else "")
                + "</li>"
                for i, label in zip(ids, labels)
            )
            head = counted(int(against.sum()), "counterexample")
            rows.append(f"<details><summary>{head}</summary><ul>{items}</ul></details>")
        return "<div>" + "".join(f"<div>{r}</div>" for r in rows) + "</div>"

    def to_dict(self) -> dict[str, object]:
        """Return the numbers, words and ids as plain values, to be kept or written."""
        judged = self.judged_on
        return {
            "text": self.text, "word": self.word.word if self.word else "", "count": self.count, "base": self.base,
            "share": self.share, "low": judged.low if judged else float("nan"),
            "high": judged.high if judged else float("nan"), "level": judged.level if judged else float("nan"),
            "verdict": self.verdict.status, "holds": self.holds, "sentence": self.sentence,
            "moment_ids": self.moment_ids, "base_ids": self.base_ids,
        }  # fmt: skip


def claim(
    text: str,
    moments: Moments,
    of: Moments,
    word: str | ShareWord | None = None,
    *,
    match: Match | None = None,
    possession: ArrayLike | None = None,
    words: Mapping[str, Any] | None = None,
    few: int = FEW,
    level: float = 0.95,
    seed: int = 0,
    draws: int = DRAWS,
) -> Claim:
    """Check a sentence about a match against all instances: how many of how many, and does that bear the word.

    Parameters
    ----------
    text : str
        The claim in words.
    moments : Moments
        The instances it is true of; they must be among `of`.
    of : Moments
        All instances of the kind.
    word : str, optional
        How often: "usually", "seldom", "two in three", "at least 60 %"; see `share_word`.  Left out, the word that
        the text itself uses; without one, or with several, the verdict names the words that the numbers would bear.
    match : Match, optional
        Gives the counterexamples their match clock, and says which instances come from one possession.
    possession : (N,) array, optional
        A label for each moment of `of`; those with one label depend on each other.  By default the possession
        that each falls in, where the match is given.
    words : mapping of word to (low, high), optional
        Other shares for the words, or other words.
    few : int, default 10
        Fewer instances (or possessions) than this are too few to judge.
    level : float, default 0.95
        Of the interval.
    seed, draws : int, default 0 and 4000
        Of the drawing of possessions.

    Returns
    -------
    Claim
        Shown in a notebook cell as it is; `.sentence` is ready to publish, `.counterexamples` are Moments.

    Raises
    ------
    TacticalKitError
        `moments` that are not among `of`; a word that is not known, or another than the text says; a level or a
        range that is none.

    Notes
    -----
    The verdict rests on Wilson's interval, and where several instances come from one possession on the
    wider of it and the one from drawing possessions: such instances are not independent witnesses.
    "Supported" needs the whole interval in the range of the word, "not borne" the whole interval outside.

    >>> rows = [dict(period=1, start_s=s, end_s=s + 5, team="A", players=(), more=s % 6 > 0) for s in range(37)]
    >>> found = Moments.build("build-up", rows, {"more": "bool"})
    >>> print(claim("A build with one man more", found.where(more=True), of=found, word="mostly").sentence)
    A build with one man more: 30 of 37, 81 %, 95 % interval 66-91 %. “mostly” (more than 50 %) is supported: \
the whole interval, 66-91 %, fits.
    """
    check_part(moments, of)
    table = word_table(words)
    meaning = share_word(word, words) if word is not None else word_in(text, words)
    if meaning is not None and (other := contradicted(text, meaning, words)):
        raise TacticalKitError(f"the claim {' '.join(text.split())!r} {other}")
    inside = of.table["moment_id"].isin(moments.table["moment_id"]).to_numpy(bool)
    part = of.where(inside)  # in the order of `of`, each once
    interval = resampled = None
    if len(of):
        interval = wilson_interval(len(part), len(of), level)
        labels = possessions_of(of, match) if possession is None else np.asarray(possession)
        if labels is not None:
            drawn = resampled_share(inside, labels, level, seed=seed, draws=draws)
            resampled = drawn if drawn.largest > 1 else None
    judged = interval.around(resampled.interval if resampled else None) if interval else None
    verdict = judge_share(
        len(part), len(of), judged, meaning, table.values(), few, resampled.possessions if resampled else None
    )
    return Claim(text, part, of, meaning, interval, resampled, verdict, moment_labels(of, match))


def _stopped(text: str) -> str:
    """The sentence of a claim without its full stop, as a colon or a line follows."""
    return " ".join(text.split()).removesuffix(".")
