"""Small helpers for exercises: a check says which part is wrong and by how much, and never gives the answer.

An exercise is three cells: a stub that ends in `answer = ...`, a check, a folded solution.  A check takes
the *result*, so any right way to it is accepted.  It returns a `Verdict` and raises nothing: a notebook
runs from top to bottom whether its exercises are done or not.
"""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

__all__ = ["Verdict", "check_function", "check_members", "check_number", "check_table", "untouched"]

NOT_DONE = "not done yet"
NOT_RIGHT = "not right yet"
RIGHT = "right"
_MARKS = {NOT_DONE: "…", NOT_RIGHT: "✗", RIGHT: "✓"}


@dataclass(frozen=True)
class Verdict:
    """What a check found: `status` is "right", "not right yet" or "not done yet"; `hints` say what to look at.

    >>> print(check_number("passes", 12, 12))
    ✓ passes: right
    """

    name: str
    status: str
    hints: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """True if the answer is right."""
        return self.status == RIGHT

    def __str__(self) -> str:
        head = f"{_MARKS[self.status]} {self.name}: {self.status}"
        return "\n".join([head, *(f"  - {hint}" for hint in self.hints)])

    __repr__ = __str__

    def _repr_html_(self) -> str:
        hints = "".join(f"<li>{html.escape(hint)}</li>" for hint in self.hints)
        head = f"<b>{_MARKS[self.status]} {html.escape(self.name)}: {self.status}</b>"
        return f"<div>{head}{'<ul>' + hints + '</ul>' if hints else ''}</div>"


def untouched(answer: object) -> bool:
    """Tell whether a stub was left as it was: `...`, None, or a collection that holds nothing else.

    >>> untouched(...), untouched((..., ...)), untouched(0), untouched([])
    (True, True, False, False)
    """
    if answer is ... or answer is None:
        return True
    if isinstance(answer, list | tuple | dict):
        values = list(answer.values()) if isinstance(answer, dict) else list(answer)
        return bool(values) and all(untouched(v) for v in values)
    return False


def _not_done(name: str) -> Verdict:
    return Verdict(name, NOT_DONE, ("replace the `...` in the cell above with your answer and run both cells",))


def _verdict(name: str, hints: Iterable[str]) -> Verdict:
    hints = tuple(hints)
    return Verdict(name, NOT_RIGHT if hints else RIGHT, hints)


def check_number(name: str, answer: Any, expected: float, tolerance: float = 0.005, unit: str = "") -> Verdict:
    """Check a number; a wrong one is called too high or too low, and roughly by how much.

    Parameters
    ----------
    name : str
        What the number is.
    answer : number
        The learner's.
    expected : float
        The right one; it is not shown.
    tolerance : float, default 0.005
        Largest difference that is still right: at most this much.
    unit : str
        Unit asked for, named when the answer looks like another unit.

    >>> print(check_number("share", 0.31, 0.62))
    ✗ share: not right yet
      - too low, by about a half
    """
    if untouched(answer):
        return _not_done(name)
    if isinstance(answer, bool) or not hasattr(answer, "__float__"):
        return _verdict(name, [f"expected a number, met {type(answer).__name__}"])
    value, expected = float(answer), float(expected)
    if math.isnan(expected) and math.isnan(value):
        return _verdict(name, [])
    if not math.isfinite(value):
        return _verdict(name, [f"{value:g} is no finite number: is something divided by zero or missing?"])
    if math.isnan(expected):
        return _verdict(name, ["a number, where there is nothing to tell it from"])
    if abs(value - expected) <= tolerance:
        return _verdict(name, [])
    return _verdict(name, [_how_far(value, expected, unit)])


def _how_far(value: float, expected: float, unit: str) -> str:
    for factor, words in ((100.0, "per cent asked for as a share from 0 to 1, or the reverse"),):
        if expected and any(math.isclose(value, expected * f, rel_tol=0.005) for f in (factor, 1 / factor)):
            return f"a hundred times off: {words}?" + (f" The unit is {unit}." if unit else "")
    if expected and math.isclose(value, -expected, rel_tol=0.005):
        return "right but for its sign: which way does the side attack?"
    direction = "too high" if value > expected else "too low"
    if expected == 0:
        return direction
    off = abs(value - expected) / abs(expected)
    bands = ((0.03, "by a little"), (0.15, "by about a tenth"), (0.35, "by about a quarter"), (0.75, "by about a half"))
    return f"{direction}, " + next((words for limit, words in bands if off <= limit), "by far")


def check_members(name: str, answer: Any, expected: Iterable[object], ordered: bool = False) -> Verdict:
    """Check a collection; a wrong one is told how many are missing and how many do not belong.

    Parameters
    ----------
    name : str
        What the collection is.
    answer : iterable
        The learner's: list, tuple, set, Series or Index; a single text counts as one member.
    expected : iterable
        The right members; not shown.
    ordered : bool, default False
        The order matters.

    >>> print(check_members("zones", ["a", "c"], ["a", "b"]))
    ✗ zones: not right yet
      - 1 missing
      - 1 that does not belong
    """
    if untouched(answer):
        return _not_done(name)
    if isinstance(answer, str) or not isinstance(answer, Iterable):
        answer = [answer]
    given, wanted = [str(a) for a in answer], [str(e) for e in expected]
    hints = []
    missing, extra = set(wanted) - set(given), set(given) - set(wanted)
    if missing:
        hints.append(f"{len(missing)} missing")
    if extra:
        hints.append(f"{len(extra)} that {'does' if len(extra) == 1 else 'do'} not belong")
    if not hints and len(given) != len(wanted):
        hints.append(f"{len(given)} given, some of them more than once")
    if not hints and ordered and given != wanted:
        first = next(i for i, (g, w) in enumerate(zip(given, wanted, strict=True)) if g != w)
        hints.append(f"the right members in another order, from place {first + 1} on")
    return _verdict(name, hints)


def check_table(
    name: str, answer: Any, expected: pd.DataFrame, key: Sequence[str], tolerance: float = 0.005
) -> Verdict:
    """Check a table, whatever the order of its rows and columns; further columns are allowed.

    Parameters
    ----------
    name : str
        What the table is.
    answer : DataFrame
        The learner's; an index that bears a key's name counts as a column.
    expected : DataFrame
        The right table; not shown.
    key : sequence of str
        Columns that name a row.
    tolerance : float, default 0.005
        Largest difference of a number that is still right.
    """
    if untouched(answer):
        return _not_done(name)
    if isinstance(answer, pd.Series):
        answer = answer.to_frame()
    if not isinstance(answer, pd.DataFrame):
        return _verdict(name, [f"expected a DataFrame, met {type(answer).__name__}"])
    if any(k not in answer.columns for k in key):
        answer = answer.reset_index()
    lacking = [c for c in expected.columns if c not in answer.columns]
    if lacking:
        return _verdict(name, [f"column {c!r} is missing" for c in lacking])
    given, wanted = answer.set_index(list(key)), expected.set_index(list(key))
    rows = check_members(name, given.index, wanted.index)
    hints = [f"rows: {hint}" for hint in rows.hints]
    common = wanted.index.intersection(given.index)
    if given.index.is_unique and len(common):
        for column in wanted.columns:
            pairs = zip(given.loc[common, column], wanted.loc[common, column], strict=True)
            bad = [(g, w) for g, w in pairs if not _alike(g, w, tolerance)]
            if bad:
                hints.append(f"column {column!r}: {len(bad)} of {len(common)} rows differ")
    return _verdict(name, hints)


def check_function(
    name: str, function: Any, cases: Sequence[tuple[str, tuple[Any, ...], Any]], tolerance: float = 0.005
) -> Verdict:
    """Check a learner's function on cases, the edges among them; each failing case is named in words.

    Parameters
    ----------
    name : str
        What the function is for.
    function : callable
        The learner's.  One that returns `...` or None everywhere is an untouched stub.
    cases : sequence of (words, arguments, expected)
        Words such as "two spans that touch"; the expected value is not shown.
    tolerance : float, default 0.005
        Largest difference of a number that is still right.

    >>> print(check_function("double", lambda x: x + 1, [("one", (1,), 2), ("nothing", (0,), 0)]))
    ✗ double: not right yet
      - nothing: too high
    """
    if untouched(function):
        return _not_done(name)
    if not callable(function):
        return _verdict(name, [f"expected a function, met {type(function).__name__}"])
    hints, stub = [], True
    for words, arguments, expected in cases:
        met, hint = _call(function, arguments)
        stub = stub and not hint and untouched(met)
        if not hint and not _alike(met, expected, tolerance):
            number = isinstance(expected, int | float) and not isinstance(expected, bool)
            verdict = check_number(words, met, expected, tolerance) if number else None
            hint = verdict.hints[0] if verdict and not untouched(met) else f"another {type(expected).__name__} expected"
        if hint:
            hints.append(f"{words}: {hint}")
    return _not_done(name) if stub and cases else _verdict(name, hints)


def _call(function: Callable[..., Any], arguments: tuple[Any, ...]) -> tuple[Any, str]:
    try:
        return function(*arguments), ""
    except NotImplementedError:
        return ..., ""
    except Exception as error:  # whatever a learner's code raises is a hint, not the end of the notebook
        return None, f"it stops with {type(error).__name__}: {error}"


def _alike(given: Any, wanted: Any, tolerance: float) -> bool:
    try:
        if isinstance(wanted, bool) or isinstance(given, bool):
            return bool(given) == bool(wanted) and given is not ...
        if isinstance(wanted, float | int) or hasattr(wanted, "dtype"):
            g, w = float(given), float(wanted)
            return abs(g - w) <= tolerance or (math.isnan(g) and math.isnan(w))
    except (TypeError, ValueError):
        return str(given) == str(wanted)
    return bool(given == wanted)
