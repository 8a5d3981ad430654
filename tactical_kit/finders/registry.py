"""The register of finders: each by name, with what it needs and the sentence of what it finds."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

import pandas as pd

from tactical_kit.errors import MissingDataError, TacticalKitError, check_choice
from tactical_kit.match import Match, remembered
from tactical_kit.moments import Column, Moments

__all__ = ["DATA_WORDS", "Finder", "find", "finder", "finder_names", "get_finder", "list_finders"]

DATA_WORDS = ("events", "tracking", "stills", "tags")
_Function = TypeVar("_Function", bound=Callable[..., Moments])


@dataclass(frozen=True)
class Finder:
    """One registered finder.

    Parameters
    ----------
    name : str
        What it is asked for by; its Moments bear the same name.
    function : callable
        Takes a match and keyword thresholds, returns Moments.
    needs : tuple of str
        Every entry must be there; an entry such as "events or tracking" is met by either.
    finds : str
        One sentence that a coach would accept.
    columns : mapping of name to Column
        The finder's own numbers, with unit and words.
    """

    name: str
    function: Callable[..., Moments]
    needs: tuple[str, ...]
    finds: str
    columns: Mapping[str, Column] = field(default_factory=dict)

    @property
    def thresholds(self) -> dict[str, object]:
        """The keyword parameters with their defaults."""
        parameters = inspect.signature(self.function).parameters.values()
        return {p.name: p.default for p in parameters if p.default is not inspect.Parameter.empty}

    def missing(self, match: Match) -> list[str]:
        """Return the needs that the match does not meet."""
        there = _data_of(match)
        return [need for need in self.needs if not there & set(need.split(" or "))]

    def __call__(self, match: Match, **thresholds: Any) -> Moments:
        """Search a match; thresholds that the finder does not know are refused with the list."""
        for name in thresholds:
            check_choice(f"a threshold of finder {self.name!r}", name, self.thresholds)
        missing = self.missing(match)
        if missing:
            less = [f.name for f in _FINDERS.values() if f.name != self.name and not f.missing(match)]
            would = f" These finders do with what is there: {', '.join(sorted(less))}." if less else ""
            raise MissingDataError(
                f"Finder {self.name!r} needs {' and '.join(missing)}; this match has {match.level}.{would}"
            )
        return self.function(match, **thresholds)


_FINDERS: dict[str, Finder] = {}


def finder(
    name: str, needs: tuple[str, ...] = (), finds: str = "", columns: Mapping[str, Column] | None = None
) -> Callable[[_Function], _Function]:
    """Register a function as a finder; what it found in a match is remembered with the match.

    Parameters
    ----------
    name : str
        Unique name.
    needs : tuple of str
        Words of `DATA_WORDS`, or several joined by " or " where one of them is enough.
    finds : str
        What it looks for in one sentence that a coach would accept.
    columns : mapping of name to Column
        The finder's own numbers: what pages of filters and lists of finders are made from.

    Raises
    ------
    TacticalKitError
        A name that is taken, no sentence, an unknown need.

    >>> @finder("throw-in near the box", needs=("events",), finds="A throw-in within reach of the box.")
    ... def find_near_throws(match, reach_m=25.0):
    ...     return Moments.build("throw-in near the box", [], params={"reach_m": reach_m})
    >>> get_finder("throw-in near the box").thresholds
    {'reach_m': 25.0}
    >>> del _FINDERS["throw-in near the box"]
    """
    if not finds.strip():
        raise TacticalKitError(f"finder {name!r} says nothing of what it finds; give one sentence as `finds`.")
    for need in needs:
        for word in need.split(" or "):
            check_choice(f"a need of finder {name!r}", word, DATA_WORDS)

    def register(function: _Function) -> _Function:
        taken = _FINDERS.get(name)
        # The same function may come again: a notebook runs its cell, or reloads its module.
        if taken is not None and _full_name(taken.function) != _full_name(function):
            raise TacticalKitError(
                f"finder {name!r} is registered already, as {_full_name(taken.function)}; give yours another name."
            )
        known = function if hasattr(function, "__wrapped__") else remembered(function)
        _FINDERS[name] = Finder(name, known, tuple(needs), finds, dict(columns or {}))
        return known

    return register


def _full_name(function: Callable[..., Moments]) -> str:
    return f"{function.__module__}.{function.__qualname__}"


def finder_names() -> list[str]:
    """Return the names of all finders, sorted."""
    return sorted(_FINDERS)


def get_finder(name: str) -> Finder:
    """Return a finder by name; an unknown name raises with the list and the near spelling."""
    return _FINDERS[check_choice("finder", name, finder_names())]


def list_finders(match: Match | None = None) -> pd.DataFrame:
    """Return one row a finder: name, needs, finds; with a match also whether it can run on it.

    Parameters
    ----------
    match : Match, optional
        Adds the columns `can_run` (bool) and `missing` (str, "" if nothing is).
    """
    rows = [(f.name, " and ".join(f.needs), f.finds) for f in (_FINDERS[n] for n in finder_names())]
    table = pd.DataFrame(rows, columns=["name", "needs", "finds"])
    if match is not None:
        table["missing"] = [" and ".join(_FINDERS[n].missing(match)) for n in table["name"]]
        table["can_run"] = table["missing"] == ""
    return table


def find(match: Match, name: str, **thresholds: Any) -> Moments:
    """Search a match with a finder named by word: `find(match, "possession", min_control_s=1.5)`."""
    return get_finder(name)(match, **thresholds)


def _data_of(match: Match) -> set[str]:
    held = {"events": match.events, "tracking": match.tracking, "stills": match.stills or None, "tags": match.tags}
    return {word for word, data in held.items() if data is not None}
