"""Moments: what a finder found, one row an instance, with the parameters it was found with."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from tactical_kit.errors import TacticalKitError, suggest
from tactical_kit.match.runs import runs_of

__all__ = ["CORE_COLUMNS", "Column", "Moments", "runs_of"]

CORE_COLUMNS: dict[str, str] = {
    "moment_id": "str",
    "finder": "str",
    "period": "int8",
    "start_s": "float64",  # half-open span [start_s, end_s), seconds from the start of the period
    "end_s": "float64",
    "team": "str",  # team_id of the side the moment is about
    "players": "object",  # tuple of player_ids
    "x": "float64",  # where, metres, attacking frame of `team`; NaN if it has no place
    "y": "float64",
}


@dataclass(frozen=True)
class Column:
    """One of a finder's own columns: its type, its unit and what it says.

    Parameters
    ----------
    dtype : str
        "float64", "int64", "bool", "boolean" (with <NA>), "str", or "object" (a tuple of player ids).
    words : str
        What it says, for a reader: "how far the ball moved across".
    unit : str, default ""
        "m", "s", "m/s", "%"; "" for counts, words and yes or no.
    short : str, default ""
        Head of a narrow column where the name itself is no word; see `label`.
    """

    dtype: str
    words: str
    unit: str = ""
    short: str = ""

    def label(self, name: str) -> str:
        """Return a short head: `short`, or the name in words without the unit that it ends on.

        >>> Column("float64", "how fast he closed", "m/s").label("closing_ms")
        'closing'
        """
        if self.short:
            return self.short
        ending = f"_{self.unit.replace('/', '')}" if self.unit else ""
        return name.removesuffix(ending).replace("_", " ")


@dataclass(frozen=True, eq=False)
class Moments:
    """A tidy table of instances.  Every finder returns one; every chart, claim and clip list takes one.

    Build it with `Moments.build`, which adds ids, sorts, checks names and types.

    Parameters
    ----------
    table : DataFrame
        The core columns, then the finder's own numbers.
    finder : str
        Name of the finder.
    params : mapping
        Every threshold it was found with.
    match_id : str
        The match it was found in.

    >>> found = Moments.build("demo", [], {"pace_ms": "float64"})
    >>> len(found), found.table["pace_ms"].dtype
    (0, dtype('float64'))
    """

    table: pd.DataFrame
    finder: str
    params: Mapping[str, object] = field(default_factory=dict)
    match_id: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "params", MappingProxyType(dict(self.params)))

    def __reduce__(self) -> tuple[type[Moments], tuple[object, ...]]:
        # A mapping proxy cannot be pickled; workers of a season get a plain dict, frozen again on arrival.
        return Moments, (self.table, self.finder, dict(self.params), self.match_id)

    @classmethod
    def build(
        cls,
        finder: str,
        rows: pd.DataFrame | list[dict[str, object]],
        extras: Mapping[str, str] | Mapping[str, Column] | None = None,
        params: Mapping[str, object] | None = None,
        match_id: str = "",
    ) -> Moments:
        """Make Moments from rows, typed and sorted; with no row the columns and types are the same.

        Parameters
        ----------
        finder : str
            Name of the finder; with the running number it makes the `moment_id`.
        rows : DataFrame or list of dict
            Core columns without `moment_id` and `finder`, and the extras.
        extras : mapping of name to dtype or to Column
            The finder's own columns, in order.
        params : mapping
            Thresholds used.
        match_id : str
            The match.

        Raises
        ------
        TacticalKitError
            An extra that would shadow a core column, a missing or unknown column, a span that ends before
            it starts.
        """
        types = {name: c.dtype if isinstance(c, Column) else c for name, c in (extras or {}).items()}
        shadow = sorted(set(types) & set(CORE_COLUMNS))
        if shadow:
            raise TacticalKitError(f"finder {finder!r}: {', '.join(shadow)} would shadow a core column of Moments.")
        wanted = {**CORE_COLUMNS, **types}
        given = pd.DataFrame(rows)
        if len(given) == 0:
            given = pd.DataFrame({name: pd.Series([], dtype=dtype) for name, dtype in wanted.items()})
        unknown = [c for c in given.columns if c not in wanted]
        missing = [c for c in wanted if c not in given.columns and c not in ("moment_id", "finder", "x", "y")]
        if unknown or missing:
            raise TacticalKitError(f"finder {finder!r}: unknown columns {unknown}, missing columns {missing}.")
        table = given.assign(finder=finder, **{c: np.nan for c in ("x", "y") if c not in given.columns}).sort_values(
            ["period", "start_s", "end_s", "team"], kind="stable", ignore_index=True
        )
        width = max(3, len(str(len(table))))
        table["moment_id"] = [f"{finder}-{i + 1:0{width}d}" for i in range(len(table))]
        table = table[list(wanted)].astype(wanted)
        backwards = table.index[table["end_s"] < table["start_s"]]
        if len(backwards):
            row = table.loc[backwards[0]]
            raise TacticalKitError(
                f"finder {finder!r}: a moment ends before it starts (period {row.period}, {row.start_s:g} to "
                f"{row.end_s:g} s)."
            )
        return cls(table, finder, dict(params or {}), match_id)

    def __len__(self) -> int:
        return len(self.table)

    def __iter__(self) -> Iterator[pd.Series]:
        return (row for _, row in self.table.iterrows())

    def __getitem__(self, column: str) -> pd.Series:
        if column not in self.table:
            raise TacticalKitError(
                f"moments of {self.finder!r} have no column {column!r}; they have {', '.join(self.table.columns)}."
                f"{suggest(column, self.table.columns)}"
            )
        return self.table[column]

    def where(self, mask: ArrayLike | None = None, **equal: object) -> Moments:
        """Return the moments that fit: a boolean mask, and columns equal to a value or one of several.

        What is not known (<NA>) fits nothing.

        >>> rows = [dict(period=1, start_s=s, end_s=s + 1, team="a", players=(), won=s > 2) for s in (1, 3)]
        >>> found = Moments.build("demo", rows, {"won": "bool"})
        >>> len(found.where(won=True)), len(found.where(found["start_s"] < 5, team=["a", "b"]))
        (1, 2)
        """
        if isinstance(mask, pd.Series):
            mask = mask.fillna(False)
        keep = np.ones(len(self), bool) if mask is None else np.array(mask, bool)
        if keep.shape != (len(self),):
            raise TacticalKitError(f"a mask of shape {keep.shape} for {len(self)} moments.")
        for column, value in equal.items():
            values = self[column]
            several = isinstance(value, list | set | frozenset | tuple)
            _warn_of_near_spellings(column, values, list(value) if several else [value])  # type: ignore[call-overload]
            fits = values.isin(list(value)) if several else values == value  # type: ignore[call-overload]
            keep &= fits.fillna(False).to_numpy(bool)
        return Moments(self.table[keep].reset_index(drop=True), self.finder, self.params, self.match_id)

    @property
    def duration_s(self) -> pd.Series:
        """Length of each moment in seconds."""
        return self.table["end_s"] - self.table["start_s"]

    def shallow(self) -> Moments:
        """Return the same moments with a table to which columns can be added."""
        return Moments(self.table.copy(deep=False), self.finder, self.params, self.match_id)

    def to_frame(self) -> pd.DataFrame:
        """Return a copy of the table."""
        return self.table.copy()

    def _repr_html_(self) -> str:
        shown = self.table.drop(columns=["finder"]).head(20)
        more = f"<p>{len(self)} moments of “{self.finder}”" + (", the first 20 shown</p>" if len(self) > 20 else "</p>")
        return more + shown.to_html(escape=True, index=False, float_format=lambda v: f"{v:.1f}")


def _warn_of_near_spellings(column: str, values: pd.Series, wanted: list[object]) -> None:
    """Warn of a word that no moment has and that is nearly one they have; no moment at all is an answer, too."""
    if values.dtype != "str":
        return
    known = values.unique().tolist()
    for word in wanted:
        if not isinstance(word, str) or word in known or any(c.isdigit() for c in word):  # ids are alike by nature
            continue
        near = suggest(word, known, cutoff=0.85)
        if near:
            warnings.warn(f"no moment has {column} {word!r}.{near}", stacklevel=3)
