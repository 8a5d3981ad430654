"""Which finder an explorer asks, with which thresholds and filters: the finder's part of the state, without widgets."""

from __future__ import annotations

import inspect
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote, unquote

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.explorer.lists import TAG, list_names
from tactical_kit.explorer.number_filters import ColumnFilter, split_unit
from tactical_kit.finders import finder_names, get_finder
from tactical_kit.match import Match

__all__ = ["Finding", "Offer", "Threshold", "offers", "read_thresholds", "thresholds_of", "write_thresholds"]

_WORDS_OF = {"events": "events", "tracking": "tracking", "stills": "digitised stills", "tags": "tags"}


@dataclass(frozen=True)
class Finding:
    """What is asked of one finder.

    Parameters
    ----------
    finder : str
        Its name, or "tag" for the analyst's own tags.
    thresholds : tuple of (name, value)
        Those that differ from their defaults, by name.
    filters : tuple of ColumnFilter
        What is asked of its columns, by column.
    compare : str, default ""
        What the halves are compared by: "column" or "column:word"; "" lets the page choose.

    >>> Finding("shot").filtered(ColumnFilter("goal_distance_m", high=16)).filters[0].to_text()
    'goal_distance_m:..16'
    """

    finder: str
    thresholds: tuple[tuple[str, Any], ...] = ()
    filters: tuple[ColumnFilter, ...] = ()
    compare: str = ""

    def filtered(self, *filters: ColumnFilter) -> Finding:
        """Return it with some columns asked for anew; a filter that asks nothing drops the column's own."""
        kept = {f.column: f for f in self.filters} | {f.column: f for f in filters}
        asked = sorted((f for f in kept.values() if f.asks), key=lambda f: f.column)
        return replace(self, filters=tuple(asked))

    def filter_of(self, column: str) -> ColumnFilter | None:
        """Return what is asked of a column."""
        return next((f for f in self.filters if f.column == column), None)

    def without(self, column: str) -> Finding:
        """Return it with nothing asked of a column."""
        return replace(self, filters=tuple(f for f in self.filters if f.column != column))

    def with_threshold(self, name: str, value: Any) -> Finding:
        """Return it with a threshold changed; its default drops it."""
        defaults = {t.name: t.default for t in thresholds_of(self.finder)}
        kept = dict(self.thresholds) | {name: value}
        kept = {n: v for n, v in kept.items() if not (type(v) is type(defaults.get(n)) and v == defaults[n])}
        return replace(self, thresholds=tuple(sorted(kept.items())))

    def plain(self) -> Finding:
        """Return the same finder with its own thresholds and no filter."""
        return Finding(self.finder, compare=self.compare)


@dataclass(frozen=True)
class Offer:
    """A list that the picker shows: name, the sentence of what it finds, and why it cannot be asked ("" if it can)."""

    name: str
    finds: str
    why_not: str = ""


def offers(match: Match) -> list[Offer]:
    """Return every finder there is and the tags, those that the match allows first."""
    able = list_names(match)
    made = [Offer(n, get_finder(n).finds if n != TAG else "What the analyst logged, tag by tag.") for n in able]
    for name in finder_names():
        if name not in able:
            needs = " and ".join(
                " or ".join(_WORDS_OF[w] for w in n.split(" or ")) for n in get_finder(name).missing(match)
            )
            made.append(Offer(name, get_finder(name).finds, f"needs {needs}, which this match does not have"))
    return made


@dataclass(frozen=True)
class Threshold:
    """One threshold of a finder: name, label, unit, default and what its docstring says of it."""

    name: str
    label: str
    unit: str
    default: Any
    words: str = ""

    def read(self, text: str) -> Any:
        """Return a value typed for it, of the type of its default.

        Raises
        ------
        TacticalKitError
            Text that is no such value.
        """
        text = text.strip()
        try:
            if isinstance(self.default, bool):
                return {"yes": True, "no": False}[text]
            if isinstance(self.default, int):
                return int(text)
            if isinstance(self.default, float) or self.default is None:
                value = float(text.replace(",", "."))
                if value - value != 0:  # NaN and infinity
                    raise ValueError
                return value
            if isinstance(self.default, str):
                return text
        except (ValueError, KeyError):
            pass
        kind = {bool: "yes or no", int: "a whole number"}.get(type(self.default), "a number")
        if not self.can_change:
            kind = f"{self.default!r}, which can be changed in Python alone"
        raise TacticalKitError(f"threshold {self.name} is {text!r}; expected {kind}.")

    def write(self, value: Any) -> str:
        """Return a value as text that `read` takes."""
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, float):
            return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)
        return str(value)

    @property
    def can_change(self) -> bool:
        """Whether a text can say its value."""
        return self.default is None or isinstance(self.default, bool | int | float | str)


def thresholds_of(finder: str) -> list[Threshold]:
    """Return the thresholds of a finder; none of what is no finder."""
    if finder not in finder_names():
        return []
    found = get_finder(finder)
    said = _said_of_parameters(inspect.getdoc(inspect.unwrap(found.function)) or "")
    plain = {n: words.replace("`", "") for n, words in said.items()}  # marks of the docstring, not of the page
    return [Threshold(n, *split_unit(n), default, plain.get(n, "")) for n, default in found.thresholds.items()]


def _said_of_parameters(docstring: str) -> dict[str, str]:
    """Return what a numpy-form docstring says of each parameter, in one line."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-+$|\Z)", docstring, re.S | re.M)
    said: dict[str, str] = {}
    names: list[str] = []
    for line in section[1].splitlines() if section else ():
        if line and not line[0].isspace():
            names = [n.strip() for n in line.partition(" : ")[0].split(",")]
            said |= dict.fromkeys(names, "")
        else:
            for name in names:
                said[name] = f"{said[name]} {line.strip()}".strip()
    return said


def write_thresholds(finder: str, thresholds: Mapping[str, Any] | tuple[tuple[str, Any], ...]) -> str:
    """Return thresholds for the text of a view: "before_s:5+after_s:2"."""
    known = {t.name: t for t in thresholds_of(finder)}
    return "+".join(
        f"{quote(name, safe='')}:{quote(known[name].write(value), safe='')}" for name, value in dict(thresholds).items()
    )


def read_thresholds(finder: str, text: str) -> tuple[tuple[str, Any], ...]:
    """Read them back.

    Raises
    ------
    TacticalKitError
        A threshold that the finder does not have, or a value that does not fit.
    """
    known = {t.name: t for t in thresholds_of(finder)}
    read = Finding(finder)
    for part in text.split("+"):
        name, colon, value = part.partition(":")
        if not colon or not known:
            expected = "expected threshold:value" if known else f"the list {finder!r} has no thresholds"
            raise TacticalKitError(f"{part!r} is no threshold; {expected}.")
        threshold = known[check_choice(f"a threshold of finder {finder!r}", unquote(name), known)]
        read = read.with_threshold(threshold.name, threshold.read(unquote(value)))
    return read.thresholds
