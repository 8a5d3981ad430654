"""Filters on a finder's own numbers and words: what may be asked of each column, and what each answer would leave.

A number is asked for by a range, a word or a yes and no by the values that are wanted.  What is unknown is counted
wherever something is, and is kept only where it is asked for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import quote, unquote

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.finders import finder_names, get_finder
from tactical_kit.moments import CORE_COLUMNS, Column

__all__ = [
    "ColumnFilter",
    "Facet",
    "OwnColumn",
    "choices_of",
    "facets_of",
    "numbers_of",
    "own_columns",
    "parse_filters",
]

UNITS = {"_ms": "m/s", "_m2": "m²", "_m": "m", "_s": "s", "_pct": "%", "_deg": "°", "_min": "min", "_hz": "Hz"}
NUMBER, WORD, YES_NO, SEVERAL = "number", "word", "yes or no", "several"
_UNKNOWN = "?"  # in the text of a view
_BINS = 20


@dataclass(frozen=True)
class OwnColumn:
    """One of a finder's own columns as the page speaks of it.

    Parameters
    ----------
    name : str
        Its name in the table.
    label : str
        A short heading, without the unit.
    words : str
        What it says, for a reader.
    unit : str
        "" for counts and words.
    kind : {"number", "word", "yes or no", "several"}
        "several" holds a tuple of words in each row, as of players.
    whole : bool
        Whole numbers.
    """

    name: str
    label: str
    words: str
    unit: str
    kind: str
    whole: bool = False


def split_unit(name: str) -> tuple[str, str]:
    """Return the words and the unit that the name of a column or threshold says.

    >>> split_unit("receiver_space_m"), split_unit("n_for")
    (('receiver space', 'm'), ('n for', ''))
    """
    for ending, unit in UNITS.items():
        if name.endswith(ending):
            return name.removesuffix(ending).replace("_", " "), unit
    return name.replace("_", " "), ""


def own_columns(finder: str, table: pd.DataFrame) -> list[OwnColumn]:
    """Return the own columns of a finder's table, in order.

    Parameters
    ----------
    finder : str
        A registered finder says itself what its columns mean; for any other list it is read from their names.
    table : DataFrame
        Of its Moments.
    """
    said = get_finder(finder).columns if finder in finder_names() else {}
    return [_own_column(name, table[name], said.get(name)) for name in table.columns if name not in CORE_COLUMNS]


def _own_column(name: str, values: pd.Series, said: Column | None) -> OwnColumn:
    label, unit = split_unit(name)
    if said is not None:
        label, unit = said.label(name) if said.unit or said.short else label, said.unit or unit
    kind, whole = SEVERAL, False
    if pd.api.types.is_bool_dtype(values.dtype):
        kind = YES_NO
    elif pd.api.types.is_numeric_dtype(values.dtype):
        kind = NUMBER
        known = values.dropna().to_numpy(float)
        whole = bool(np.all(known == np.rint(known))) if len(known) else pd.api.types.is_integer_dtype(values.dtype)
    elif pd.api.types.is_string_dtype(values.dtype) and not any(isinstance(v, tuple) for v in values):
        kind = WORD
    return OwnColumn(name, label, said.words if said is not None and said.words else label, unit, kind, whole)


def numbers_of(values: pd.Series) -> NDArray[np.float64]:
    """Return a column of numbers as floats, NaN where they are unknown."""
    return values.to_numpy(float, na_value=np.nan)


def choices_of(values: pd.Series) -> list[tuple[str, ...]]:
    """Return what each row of a column of words, of yes and no, or of tuples says; () where it is unknown."""
    if pd.api.types.is_bool_dtype(values.dtype):
        return [() if v is pd.NA else ("yes",) if v else ("no",) for v in values.astype("boolean")]
    said: list[tuple[str, ...]] = []
    for v in values:
        if isinstance(v, (tuple, list, frozenset, set)):
            said.append(tuple(str(part) for part in v if str(part)))
        else:
            said.append(() if v is None or v is pd.NA or v != v or v == "" else (str(v),))
    return said


@dataclass(frozen=True)
class ColumnFilter:
    """What is asked of one column.

    Parameters
    ----------
    column : str
        Its name.
    low, high : float, optional
        Limits of a number, both included.
    values : frozenset of str
        The words wanted ("yes" and "no" of a yes or no); a row with several needs one of them.
    unknown : bool, default False
        Keep what is unknown, too.

    Raises
    ------
    TacticalKitError
        A limit that is no finite number, limits in the wrong order, or limits and words at once.

    >>> ColumnFilter("lateral_m", 30, None).to_text(), ColumnFilter("outcome", values={"lost", "goal"}).to_text()
    ('lateral_m:30..', 'outcome:goal,lost')
    >>> ColumnFilter.from_text("lateral_m:30..45,?")
    ColumnFilter(column='lateral_m', low=30.0, high=45.0, values=frozenset(), unknown=True)
    """

    column: str
    low: float | None = None
    high: float | None = None
    values: frozenset[str] = frozenset()
    unknown: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", frozenset(self.values))
        for name in ("low", "high"):
            limit = getattr(self, name)
            if limit is not None:
                if not math.isfinite(limit):
                    raise TacticalKitError(f"a limit of {self.column} is {limit!r}; expected a number.")
                object.__setattr__(self, name, float(limit))
        if self.low is not None and self.high is not None and self.low > self.high:
            raise TacticalKitError(
                f"{self.column} from {self.low:g} to {self.high:g}: the lower limit lies above the upper one."
            )
        if self.is_range and self.values:
            raise TacticalKitError(f"{self.column} is asked for by a range or by words, not by both.")

    @property
    def is_range(self) -> bool:
        """Whether it limits a number."""
        return self.low is not None or self.high is not None

    @property
    def asks(self) -> bool:
        """False if it lets everything through."""
        return self.is_range or bool(self.values) or self.unknown

    def mask(self, values: pd.Series) -> NDArray[np.bool_]:
        """Tell which rows of its column meet it."""
        if self.is_range:
            numbers = numbers_of(values)
            known = np.isfinite(numbers)
            low = -np.inf if self.low is None else self.low
            high = np.inf if self.high is None else self.high
            fits = known & (numbers >= low) & (numbers <= high)
            return fits | ~known if self.unknown else fits
        return np.array([bool(self.values.intersection(v)) if v else self.unknown for v in choices_of(values)], bool)

    def words(self, column: OwnColumn, name_of: dict[str, str] | None = None) -> str:
        """Return it as a reader would say it: "lateral 30 m or more"."""
        unit = f" {column.unit}" if column.unit else ""
        if self.is_range:
            if self.low is not None and self.high is not None:
                said = f"{self.low:g} to {self.high:g}{unit}" if self.low < self.high else f"{self.low:g}{unit}"
            else:
                said = f"{self.low:g}{unit} or more" if self.low is not None else f"{self.high:g}{unit} or less"
            return f"{column.label} {said}{' or unknown' if self.unknown else ''}"
        told = [(name_of or {}).get(v, v) for v in sorted(self.values)] + ["unknown"] * self.unknown
        return f"{column.label} {' or '.join(told)}"

    def to_text(self) -> str:
        """Return it for the text of a view."""
        if self.is_range:
            parts = [
                f"{'' if self.low is None else _plain(self.low)}..{'' if self.high is None else _plain(self.high)}"
            ]
        else:
            parts = [_quoted(v) for v in sorted(self.values)]
        return f"{quote(self.column, safe='')}:{','.join([*parts, _UNKNOWN] if self.unknown else parts)}"

    @classmethod
    def from_text(cls, text: str) -> ColumnFilter:
        """Read it back.

        Raises
        ------
        TacticalKitError
            What cannot be read, with what was expected.
        """
        name, colon, asked = text.partition(":")
        parts = asked.split(",")
        unknown = _UNKNOWN in parts
        parts = [p for p in parts if p != _UNKNOWN]
        expected = "expected column:low..high or column:word,word (with ,? what is unknown, too)"
        if not name or not colon or not (parts or unknown) or "" in parts:
            raise TacticalKitError(f"{text!r} is no filter of a column; {expected}")
        if any(".." in p for p in parts):
            low, _, high = parts[0].partition("..")
            try:
                limits = [None if not v else float(v) for v in (low, high)]
            except ValueError:
                raise TacticalKitError(f"{text!r} has a limit that is no number; {expected}") from None
            if len(parts) > 1 or limits == [None, None]:
                raise TacticalKitError(f"{text!r} is no range; {expected}")
            return cls(unquote(name), limits[0], limits[1], unknown=unknown)
        return cls(unquote(name), values=frozenset(unquote(p) for p in parts), unknown=unknown)

    def check(self, columns: Sequence[OwnColumn]) -> ColumnFilter:
        """Return itself if it fits one of the columns.

        Raises
        ------
        TacticalKitError
            No such column, or a range of words.
        """
        known = {c.name: c for c in columns}
        if not known:
            raise TacticalKitError(f"this list has no columns of its own, so nothing can be asked of {self.column!r}.")
        column = known[check_choice("column", self.column, known)]
        if self.is_range != (column.kind == NUMBER):
            held = "numbers: ask by a range" if column.kind == NUMBER else "no numbers: ask by its words"
            raise TacticalKitError(f"{self.column} holds {held}.")
        return self


def parse_filters(text: str) -> tuple[ColumnFilter, ...]:
    """Read the filters of a view, joined by "+"; one column stands once."""
    filters = [ColumnFilter.from_text(part) for part in text.split("+")]
    twice = [name for name, n in Counter(f.column for f in filters).items() if n > 1]
    if twice:
        raise TacticalKitError(f"{', '.join(twice)} stands twice")
    return tuple(sorted(filters, key=lambda f: f.column))


def _quoted(text: str) -> str:
    return quote(text, safe="").replace(".", "%2E")  # ".." stands for a range


def _plain(number: float) -> str:
    """Return the shortest text that reads back as the same number, without a plus sign."""
    return repr(int(number)) if number == int(number) and abs(number) < 1e15 else repr(number).replace("e+", "e")


@dataclass(frozen=True)
class Facet:
    """One column with what each answer would leave, the column's own filter left out.

    Parameters
    ----------
    column : OwnColumn
        The column.
    filter : ColumnFilter or None
        What is asked of it.
    counts : tuple of int
        Of a number: how many lie in each of the equal steps from `low` to `high`, the last one closed.
    low, high : float
        Smallest and largest number of the whole list; NaN without any.
    choices : tuple of (str, int)
        Of words: each word of the whole list with its count, the most frequent first.
    unknown : int
        How many are unknown.
    """

    column: OwnColumn
    filter: ColumnFilter | None
    counts: tuple[int, ...] = ()
    low: float = math.nan
    high: float = math.nan
    choices: tuple[tuple[str, int], ...] = ()
    unknown: int = 0

    @property
    def tells(self) -> bool:
        """False if every moment says the same, so that there is nothing to ask."""
        if self.filter is not None:
            return True
        several = self.high > self.low if self.column.kind == NUMBER else len(self.choices) > 1
        return several or (self.unknown > 0 and (bool(self.choices) or math.isfinite(self.low)))


def facets_of(
    table: pd.DataFrame,
    columns: Iterable[OwnColumn],
    filters: Sequence[ColumnFilter],
    base: NDArray[np.bool_],
    words: dict[str, list[tuple[str, ...]]],
) -> list[Facet]:
    """Return every column with what each answer would leave.

    Parameters
    ----------
    table : DataFrame
        All moments of the list.
    columns : iterable of OwnColumn
        Those of `own_columns`.
    filters : sequence of ColumnFilter
        What is asked.
    base : (N,) bool ndarray
        The moments that fit the other conditions of the page.
    words : dict
        `choices_of` every column that is no number, by name.
    """
    masks = {f.column: f.mask(table[f.column]) for f in filters}
    made = []
    for column in columns:
        keep = base.copy()
        for name, mask in masks.items():
            if name != column.name:
                keep &= mask
        asked = next((f for f in filters if f.column == column.name), None)
        if column.kind == NUMBER:
            made.append(_number_facet(column, asked, numbers_of(table[column.name]), keep))
        else:
            every = Counter(v for said in words[column.name] for v in dict.fromkeys(said))
            kept = [said for said, k in zip(words[column.name], keep) if k]
            left = Counter(v for said in kept for v in dict.fromkeys(said))
            order = sorted(every, key=lambda v: (-left[v], -every[v], v))
            made.append(
                Facet(column, asked, choices=tuple((v, left[v]) for v in order), unknown=sum(not said for said in kept))
            )
    return made


def _number_facet(
    column: OwnColumn, asked: ColumnFilter | None, numbers: NDArray[np.float64], keep: NDArray[np.bool_]
) -> Facet:
    known = np.isfinite(numbers)
    unknown = int((keep & ~known).sum())
    if not known.any():
        return Facet(column, asked, unknown=unknown)
    low, high = float(numbers[known].min()), float(numbers[known].max())
    bins = min(_BINS, int(high - low) + 1) if column.whole else _BINS
    edges = (
        np.linspace(low - 0.5, high + 0.5, bins + 1)
        if column.whole
        else np.linspace(low, max(high, low + 1e-9), bins + 1)
    )
    counts, _ = np.histogram(numbers[keep & known], bins=edges)
    return Facet(column, asked, tuple(int(n) for n in counts), low, high, unknown=unknown)
