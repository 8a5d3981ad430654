"""Words for how often, and the shares that they stand for; the user may set others."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from tactical_kit.claims.interval import percent
from tactical_kit.errors import TacticalKitError, suggest

__all__ = ["SHARE_WORDS", "ShareWord", "contradicted", "no_word", "share_word", "word_in", "word_table"]


@dataclass(frozen=True)
class ShareWord:
    """A word for how often, and the shares it stands for.

    Parameters
    ----------
    word : str
        "usually", or the share in words: "two in three", "at least 60 %".
    low, high : float
        The shares from `low` to `high` fit the word, both included.  1 to 1 is "always", 0 to 0 is "never":
        such a word speaks of the instances of this match alone, and one counterexample is enough against it.
    more_than : bool, default False
        `low` itself does not fit: "more than half".

    >>> SHARE_WORDS["usually"].range_words(), SHARE_WORDS["half the time"].range_words()
    ('at least 65 %', '40-60 %')
    """

    word: str
    low: float
    high: float
    more_than: bool = False

    def __post_init__(self) -> None:
        fits = all(isinstance(v, int | float) and not isinstance(v, bool) for v in (self.low, self.high))
        exact = fits and self.low == self.high and self.low in (0, 1) and not self.more_than
        if not fits or not (exact or 0 <= self.low < self.high <= 1):
            raise TacticalKitError(
                f"the word {self.word!r} stands for {self.low!r} to {self.high!r}; expected two shares from 0 to 1, "
                "the lower first, as [0.65, 1.0]; [1, 1] is always and [0, 0] is never."
            )
        if (self.low, self.high) == (0, 1) and not self.more_than:
            raise TacticalKitError(f"the word {self.word!r} stands for every share, 0 to 1; it would say nothing.")

    @property
    def exact(self) -> bool:
        """True for "always" and "never"."""
        return self.low == self.high

    def against(self, share: float) -> str:
        """Tell which instances speak against the word: those "with" it, those "without" it, or "" for neither.

        Against "usually" speak those without it, against "seldom" those with it; against a word for a middle share
        those of which there are too many, and none while the share fits.
        """
        if self.high == 1 and (self.low > 0 or self.more_than):
            return "without"
        if self.low == 0 and self.high < 1:
            return "with"
        return "" if self.fits(share) else "with" if share > self.high else "without"

    def fits(self, share: float) -> bool:
        """Tell whether a share is one that the word stands for."""
        return (share > self.low if self.more_than else share >= self.low) and share <= self.high

    def range_words(self) -> str:
        """Return the range in words."""
        if self.exact:
            return "in every instance" if self.low == 1 else "in no instance"
        if self.high == 1 and (self.low > 0 or self.more_than):
            return f"{'more than' if self.more_than else 'at least'} {percent(self.low)} %"
        if self.low == 0 and self.high < 1:
            return f"at most {percent(self.high)} %"
        return f"{percent(self.low)}-{percent(self.high)} %"

    def __str__(self) -> str:
        return f"“{self.word}” ({self.range_words()})"


# Common practice, no source: people differ in what such words stand for, so the range is always shown beside
# the word, and can be set.
SHARE_WORDS: dict[str, ShareWord] = {
    word.word: word
    for word in (
        ShareWord("always", 1, 1),
        ShareWord("almost always", 0.9, 1),
        ShareWord("usually", 0.65, 1),
        ShareWord("mostly", 0.5, 1, more_than=True),
        ShareWord("half the time", 0.4, 0.6),
        ShareWord("sometimes", 0.15, 0.45),
        ShareWord("seldom", 0, 0.25),
        ShareWord("almost never", 0, 0.1),
        ShareWord("never", 0, 0),
    )
}
_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_IN_WORDS = 0.1  # "two in three" is meant roughly: this much either way
_NUMBER = r"(\d+(?:\.\d+)?)"


def word_table(words: Mapping[str, object] | None = None) -> dict[str, ShareWord]:
    """Return the kit's words with the user's own over them.

    Parameters
    ----------
    words : mapping of word to (low, high) or ShareWord, optional
        `{"usually": (0.6, 1), "as a rule": (0.8, 1)}`.

    Raises
    ------
    TacticalKitError
        A range that is none.
    """
    table = dict(SHARE_WORDS)
    for word, span in (words or {}).items():
        if isinstance(span, ShareWord):
            table[word] = span
        elif isinstance(span, list | tuple) and len(span) == 2:
            table[word] = ShareWord(word, *span)
        else:
            raise TacticalKitError(f"the word {word!r} stands for {span!r}; expected two shares, as [0.65, 1.0].")
    return table


def share_word(word: str | ShareWord, words: Mapping[str, object] | None = None) -> ShareWord:
    """Return what a word stands for; a share may also be said in figures.

    Parameters
    ----------
    word : str
        One of the words, or "at least 60 %", "at most 20 %", "more than 50 %", "60-80 %", "two in three", "1 in 4"
        (ten percentage points either way).
    words : mapping, optional
        The user's own words; see `word_table`.

    Raises
    ------
    TacticalKitError
        A word that is not known; the message lists those that are.

    >>> share_word("two in three").range_words(), share_word("at most 20 %").high
    ('57-77 %', 0.2)
    """
    if isinstance(word, ShareWord):
        return word
    table = word_table(words)
    plain = " ".join(str(word).split())
    for known, meaning in table.items():
        if known.casefold() == plain.casefold():
            return meaning
    found = _in_figures(plain)
    if found is None:
        raise TacticalKitError(
            f"the word {plain!r} stands for no share; expected one of {', '.join(map(repr, table))}, or a share as "
            f"'at least 60 %', 'at most 20 %', '60-80 %' or 'two in three'.{suggest(plain, table)}"
        )
    return found


def _in_figures(text: str) -> ShareWord | None:
    lower = text.lower()
    if found := re.fullmatch(rf"(at least|more than|at most) {_NUMBER} ?%", lower):
        share = _per_cent(found[2])
        low, high = (0.0, share) if found[1] == "at most" else (share, 1.0)
        return ShareWord(text, low, high, found[1] == "more than")
    if found := re.fullmatch(rf"{_NUMBER} ?(?:-|–|to) ?{_NUMBER} ?%", lower):
        return ShareWord(text, _per_cent(found[1]), _per_cent(found[2]))
    if found := re.fullmatch(r"(?:about )?(\w+) (?:in|out of) (\w+)", lower):
        part, whole = map(_whole_number, found.groups())
        if 0 < part < whole:
            share = part / whole
            # Whole per cent, so that the range that is shown is the one that is used.
            return ShareWord(text, max(0.0, round(share - _IN_WORDS, 2)), min(1.0, round(share + _IN_WORDS, 2)))
    return None


def _per_cent(figure: str) -> float:
    return float(Decimal(figure).scaleb(-2))  # 33.3 / 100 would be a little less than 333 / 1000


def _whole_number(text: str) -> int:
    return _NUMBERS.index(text) + 1 if text in _NUMBERS else int(text) if text.isdecimal() else 0


def word_in(text: str, words: Mapping[str, object] | None = None) -> ShareWord | None:
    """Return the word for how often that a sentence itself uses; None if it uses none, or several that differ.

    "Almost always" is not "always", and a word that is denied ("not always") stands for no share.

    >>> word_in("They almost always go long.").word
    'almost always'
    >>> word_in("They usually go long and seldom short"), word_in("They do not always go long")
    (None, None)
    """
    said = _words_said(text, words)[0]
    return said[0] if len(said) == 1 else None


def no_word(text: str, words: Mapping[str, object] | None = None) -> str:
    """Tell why a sentence gives no word for how often."""
    said, denied = _words_said(text, words)
    if said:
        several = " and ".join(f"“{word.word}”" for word in said)
        return f"has several words for how often in its text, {several}; write the one that is meant under word."
    if denied:
        return f"says “not {denied[0].word}” in its text, which stands for no share; write what is meant under word."
    return (
        "has no word for how often, neither as word nor in its text; expected "
        f"{', '.join(word_table(words))}, a share, or compare."
    )


def contradicted(text: str, meaning: ShareWord, words: Mapping[str, object] | None = None) -> str:
    """Tell that a sentence says another word for how often than the one that is counted; "" if it does not."""
    said = word_in(text, words)
    if said is None or (said.low <= meaning.high and said.high >= meaning.low):
        return ""
    return f"has the word {meaning}, but its text says {said}; the sentence would not say what was counted."


def _words_said(text: str, words: Mapping[str, object] | None) -> tuple[list[ShareWord], list[ShareWord]]:
    """Return the words for how often in a sentence, each once, and those that are denied; longest first."""
    table = word_table(words)
    said: dict[str, ShareWord] = {}
    denied: dict[str, ShareWord] = {}
    rest = text
    for word in sorted(table, key=len, reverse=True):
        found = re.compile(rf"\b(not |\w+n['’]t )?{re.escape(word)}\b", re.IGNORECASE)
        for match in found.finditer(rest):
            (denied if match[1] else said)[word] = table[word]
        rest = found.sub("\0", rest)  # "always" within "almost always" is no word of its own
    return list(said.values()), list(denied.values())
