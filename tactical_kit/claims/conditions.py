"""Conditions on moments as short texts: "n_for more than n_against", "route is short or circulated"; nothing is run."""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.claims.base import instants, match_minutes
from tactical_kit.errors import TacticalKitError, suggest
from tactical_kit.finders.context import phase_at
from tactical_kit.match import Match
from tactical_kit.measures.instants import goals_of, score_codes, side_codes
from tactical_kit.measures.words import SCORE_STATES
from tactical_kit.moments import Moments

__all__ = ["DERIVED", "FORMS", "Condition", "Operand", "column_values", "matching"]

# What can be asked of any moment beside the finder's own columns.
DERIVED: dict[str, str] = {
    "duration_s": "how long it lasts, s",
    "minute": "minute of the match clock at its start; added time counts as the last minute of its half",
    "phase": "the phase of its side at its start",
    "opponent_phase": "the phase of the other side at its start",
    "score": "leading, level or trailing, seen by its side",
}
# Longest first: "is not" must not be read as "is".
_OPS = {
    "is at least": ">=", "is at most": "<=", "is more than": ">", "is less than": "<", "is unknown": "unknown",
    "is known": "known", "is not": "!=", "has not": "has not", "at least": ">=", "at most": "<=", "more than": ">",
    "less than": "<", "between": "between", "has": "has", "is": "=", ">=": ">=", "<=": "<=", "!=": "!=", "==": "=",
    ">": ">", "<": "<", "=": "=",
}  # fmt: skip
_WORDS = {
    ">=": "at least", "<=": "at most", ">": "more than", "<": "less than", "=": "is", "!=": "is not", "has": "has",
    "has not": "has not", "known": "is known", "unknown": "is unknown", "between": "between",
}  # fmt: skip
_COMPARE: dict[str, Callable[..., NDArray[np.bool_]]] = {
    ">=": operator.ge, "<=": operator.le, ">": operator.gt, "<": operator.lt,
}  # fmt: skip
FORMS = (
    "'COLUMN at least NUMBER' (at most, more than, less than), 'COLUMN between A and B', 'COLUMN is WORD' or "
    "'COLUMN is WORD or WORD' (is not), 'COLUMN more than OTHER_COLUMN + NUMBER', 'players has NAME', "
    "'COLUMN is known' (unknown), a yes-or-no column alone, or 'not COLUMN'"
)
_HEAD = re.compile(
    r"\s*([A-Za-z_]\w*)\s*(" + "|".join(rf"{op}\b" if op[-1].isalpha() else re.escape(op) for op in _OPS) + r")\s*(.*)",
    re.DOTALL,
)
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_OTHER = re.compile(r"([A-Za-z_]\w*)\s*(?:([+-])\s*(\d+(?:\.\d*)?))?")
_YES, _NO = ("yes", "true"), ("no", "false")
_QUOTES = {"'": "'", '"': '"', "“": "”", "„": "“”"}  # opening and closing; the last two as a word processor writes them


@dataclass(frozen=True)
class Operand:
    """What a column is compared with: a number, or a text, which is a column's name unless it is quoted."""

    text: str
    quoted: bool = False

    @property
    def number(self) -> float | None:
        """The number, or None."""
        return float(self.text) if not self.quoted and _NUMBER.fullmatch(self.text) else None

    def __str__(self) -> str:
        if not self.quoted:
            return self.text
        return f'"{self.text}"' if '"' not in self.text else f"'{self.text}'"


@dataclass(frozen=True)
class Condition:
    """One condition on a column of moments.

    Parameters
    ----------
    column : str
        A core column, one of the finder's own, or one of `DERIVED`.
    op : str
        "=", "!=", ">=", "<=", ">", "<", "between" (both ends included), "has", "has not" (of several players),
        "known", "unknown".
    values : tuple of Operand
        What it is compared with; of several with "=" or "has" any one is enough.

    Notes
    -----
    A number that is unknown (NaN) meets no comparison, nor "is not"; ask for it with "is unknown".

    >>> Condition.from_text("n_for  more than n_against + 1")
    Condition.from_text('n_for more than n_against + 1')
    >>> Condition.from_table({"column": "outcome", "op": "=", "value": ["goal", "saved"]}).to_text()
    'outcome is goal or saved'
    """

    column: str
    op: str
    values: tuple[Operand, ...] = ()

    @classmethod
    def from_text(cls, text: str) -> Condition:
        """Read a condition; what cannot be read raises with the forms that can."""
        wrong = TacticalKitError(f"the condition {text!r} cannot be read; expected {FORMS}.")
        if not isinstance(text, str):
            raise wrong
        plain = text.strip()
        if (found := re.fullmatch(r"(not\s+)?([A-Za-z_]\w*)", plain)) and found[2] != "not":
            return cls(found[2], "=", (Operand("no" if found[1] else "yes"),))
        found = _HEAD.fullmatch(plain)
        if not found:
            raise wrong
        op, rest = _OPS[" ".join(found[2].split())], found[3].strip()
        if op in ("known", "unknown"):
            values: list[Operand] | None = [] if not rest else None
        else:
            values = _operands(rest, "and" if op == "between" else "or")
        if values is None or (not values and op not in ("known", "unknown")) or (op == "between" and len(values) != 2):
            raise wrong
        if op in _COMPARE and len(values) != 1:
            raise wrong
        if op != "between" and any("and" in v.text.split() and not v.quoted for v in values):
            raise TacticalKitError(
                f'the condition {text!r} says two things; write each as a condition of its own (a word with "and" in '
                "it stands in quotes)."
            )
        return cls(found[1], op, tuple(values))

    @classmethod
    def from_table(cls, table: Mapping[str, object]) -> Condition:
        """Read a condition from a table: column, op, and value (one or a list), or other (a column) and plus."""
        known = ("column", "op", "value", "other", "plus")
        for key in table:
            if key not in known:
                raise TacticalKitError(
                    f"the condition has the key {key!r}; expected {', '.join(known)}.{suggest(key, known)}"
                )
        column, op = table.get("column"), str(table.get("op", "is"))
        if not isinstance(column, str) or not column.isidentifier():
            raise TacticalKitError(f"the condition has the column {column!r}; expected the name of a column.")
        canonical = _OPS.get(op, op)
        if canonical not in _WORDS:
            raise TacticalKitError(
                f"the condition on {column!r} has the op {op!r}; expected one of {', '.join(_OPS)}.{suggest(op, _OPS)}"
            )
        if "other" in table:
            plus = table.get("plus", 0)
            if not _is_number(plus) or not str(table["other"]).isidentifier():
                raise TacticalKitError(
                    f"the condition on {column!r} is against {table['other']!r} plus {plus!r}; expected a column and "
                    "a number."
                )
            tail = f" {'-' if plus < 0 else '+'} {abs(plus):g}" if plus else ""  # type: ignore[operator, arg-type]
            return cls(column, canonical, (Operand(f"{table['other']}{tail}"),))
        given = table.get("value", [])
        values = tuple(_literal(column, v) for v in (given if isinstance(given, list | tuple) else [given]))
        least = 0 if canonical in ("known", "unknown") else 2 if canonical == "between" else 1
        if len(values) < least or (len(values) > least and canonical not in ("=", "!=", "has", "has not")):
            raise TacticalKitError(
                f"the condition on {column!r} with {op!r} has the value {given!r}; expected {FORMS}."
            )
        return cls(column, canonical, values)

    @classmethod
    def of(cls, given: str | Mapping[str, object] | Condition) -> Condition:
        """Read a condition in either form."""
        if isinstance(given, Condition):
            return given
        return cls.from_table(given) if isinstance(given, Mapping) else cls.from_text(given)

    def to_text(self) -> str:
        """Return the condition as a text that `from_text` reads."""
        if self._bare:
            return self.column if self.values[0].text == "yes" else f"not {self.column}"
        joint = " and " if self.op == "between" else " or "
        return f"{self.column} {_WORDS[self.op]} {joint.join(map(str, self.values))}".strip()

    def __repr__(self) -> str:
        return f"Condition.from_text({self.to_text()!r})"

    def mask(self, moments: Moments, match: Match | None = None) -> NDArray[np.bool_]:
        """Return which of the moments meet it.

        Raises
        ------
        TacticalKitError
            An unknown column, or a value that cannot be compared with it.
        """
        column = column_values(moments, self.column, match)
        if self.op in ("known", "unknown"):
            there = np.array([_is_known(v) for v in column], bool)
            return there if self.op == "known" else ~there
        if self.op in ("has", "has not"):
            return self._has(column, match)
        if _kind(column) == "players":
            raise TacticalKitError(f"{self.column} holds several players; write '{self.column} has NAME'.")
        if self.op == "between" or self.op in _COMPARE:
            return self._compared(column, moments, match)
        return self._equal(column, moments, match)

    def notes(self, moments: Moments, match: Match | None = None) -> list[str]:
        """Return a remark for each word that occurs in no moment: it may be misspelt, or just never have happened."""
        if self.op not in ("=", "!=", "has", "has not"):
            return []
        column = column_values(moments, self.column, match)
        if _kind(column) not in ("text", "players") or not len(column):
            return []
        met = {v for row in column for v in (row if isinstance(row, tuple) else (row,))}
        named = {name for v in met for name in _names_of(v, match)}
        result = []
        for value in self.values:
            if _other_column(value, moments, match) is None and not _named(value.text, match) & met:
                shown = sorted(named - {""})
                near = suggest(value.text, shown)
                some = ", ".join(map(repr, shown[:8])) + (f" and {len(shown) - 8} more" if len(shown) > 8 else "")
                result.append(f"{value.text!r} is in no moment of {self.column}, which has {some or 'no word'}.{near}")
        return result

    def _has(self, column: pd.Series, match: Match | None) -> NDArray[np.bool_]:
        if _kind(column) != "players":
            raise TacticalKitError(f"{self.column} holds one value a moment; write '{self.column} is VALUE', not has.")
        wanted = set().union(*(_named(v.text, match) for v in self.values))
        inside = np.array([bool(wanted & set(row)) for row in column], bool)
        return inside if self.op == "has" else ~inside

    def _compared(self, column: pd.Series, moments: Moments, match: Match | None) -> NDArray[np.bool_]:
        if _kind(column) != "number":
            raise TacticalKitError(
                f"{self.column} holds {_KIND_WORDS[_kind(column)]}, not numbers; it cannot be '{_WORDS[self.op]}'."
            )
        values = column.to_numpy(float)
        against = [self._numbers(v, moments, match) for v in self.values]
        if self.op == "between":
            if np.ndim(against[0]) == np.ndim(against[1]) == 0 and against[0] > against[1]:
                raise TacticalKitError(
                    f"{self.column} between {self.values[0]} and {self.values[1]} holds for nothing; the lower first."
                )
            return (values >= against[0]) & (values <= against[1])
        return _COMPARE[self.op](values, against[0])

    def _numbers(self, value: Operand, moments: Moments, match: Match | None) -> float | NDArray[np.float64]:
        if value.number is not None:
            return value.number
        other = _other_column(value, moments, match)
        if other is not None and _kind(other[0]) == "number":
            return other[0].to_numpy(float) + other[1]
        if self._bare:
            raise TacticalKitError(
                f"{self.column} holds numbers, not yes or no; write '{self.column} at least NUMBER' or the like."
            )
        numbers = [c for c in moments.table if _kind(moments.table[c]) == "number"]
        hint = suggest(value.text, [*numbers, "duration_s"])
        if re.fullmatch(r"[+-]?\d+,\d+", value.text):
            hint = f" Write {value.text.replace(',', '.')}, with a point."
        elif value.text[:1].isdigit():
            hint = " Write the number alone."
        raise TacticalKitError(
            f"{self.column} is a number; it cannot be compared with {value.text!r}. Expected a number, or a column of "
            f"numbers.{hint}"
        )

    @property
    def _bare(self) -> bool:
        """Whether it asks for a plain yes or no, as a column alone does."""
        return self.op == "=" and [str(v) for v in self.values] in (["yes"], ["no"])

    def _equal(self, column: pd.Series, moments: Moments, match: Match | None) -> NDArray[np.bool_]:
        kind = _kind(column)
        if kind == "text" and self._bare and not column.isin([self.values[0].text]).any():
            raise TacticalKitError(f"{self.column} holds words, not yes or no; write '{self.column} is WORD'.")
        hit = np.zeros(len(column), bool)
        known = column.notna().to_numpy(bool)
        for value in self.values:
            other = _other_column(value, moments, match)
            if other is not None and (other[1] or kind == _kind(other[0])):
                if kind == "number":
                    hit |= column.to_numpy(float) == other[0].to_numpy(float) + other[1]
                else:
                    same = (column == other[0]) & other[0].notna()
                    hit |= same.fillna(False).to_numpy(bool)
            elif kind == "number":
                hit |= column.to_numpy(float) == self._numbers(value, moments, match)
            elif kind == "yes or no":
                if value.text.lower() not in (*_YES, *_NO):
                    raise TacticalKitError(f"{self.column} is yes or no; it cannot be {value.text!r}.")
                hit |= (column == (value.text.lower() in _YES)).fillna(False).to_numpy(bool)
            else:
                hit |= column.isin(sorted(_named(value.text, match))).to_numpy(bool)
        # Text is never unknown: "" is a value like another.
        return hit if self.op == "=" else ~hit & known


def matching(
    moments: Moments, conditions: Sequence[str | Mapping[str, object] | Condition], match: Match | None = None
) -> Moments:
    """Return the moments that meet all the conditions.

    >>> rows = [dict(period=1, start_s=s, end_s=s + 1, team="a", players=(), n_for=4, n_against=s) for s in (2, 4)]
    >>> found = Moments.build("demo", rows, {"n_for": "int64", "n_against": "int64"})
    >>> len(matching(found, ["n_for more than n_against", "duration_s at most 1"]))
    1
    """
    keep = np.ones(len(moments), bool)
    for given in conditions:
        keep &= Condition.of(given).mask(moments, match)
    return moments.where(keep)


def column_values(moments: Moments, name: str, match: Match | None = None) -> pd.Series:
    """Return a column of the moments, the finder's own or one of `DERIVED`.

    Raises
    ------
    TacticalKitError
        A column that there is not; one that only a match can tell, without it.
    """
    if name in moments.table:
        return moments.table[name]
    if name == "duration_s":
        return moments.duration_s
    if name not in DERIVED:
        known = _columns(moments)
        raise TacticalKitError(
            f"moments of {moments.finder!r} have no column {name!r}; they have {', '.join(known)}."
            f"{suggest(name, known)}"
        )
    if match is None:
        raise TacticalKitError(f"{name} of a moment is told by its match; give the match.")
    period, time_s = instants(moments)
    team = moments.table["team"]
    if name == "minute":
        return pd.Series(match_minutes(period, time_s))
    side = side_codes(team, match)
    if name == "score":
        match.need_events("The score")
        codes = score_codes(goals_of(match), period, time_s)
        picked = np.where(side >= 0, codes[np.arange(len(codes)), np.maximum(side, 0)], -1)
        return pd.Series([SCORE_STATES[c] if c >= 0 else "" for c in picked], dtype="str")
    result = np.full(len(moments), "", dtype=object)
    for i, own in enumerate(match.teams):
        rows = side == i
        asked = own if name == "phase" else match.opponent(own.team_id)
        if rows.any():
            result[rows] = phase_at(match, period[rows], time_s[rows], asked.team_id)
    return pd.Series(result, dtype="str")


_KIND_WORDS = {"text": "words", "yes or no": "yes or no", "players": "several players", "number": "numbers"}


def _kind(column: pd.Series) -> str:
    if pd.api.types.is_bool_dtype(column):
        return "yes or no"
    if pd.api.types.is_numeric_dtype(column):
        return "number"
    return "players" if column.dtype == object else "text"


def _is_known(value: object) -> bool:
    if isinstance(value, str | tuple):
        return len(value) > 0
    return not bool(pd.isna(value))


def _columns(moments: Moments) -> list[str]:
    return list(dict.fromkeys([*moments.table.columns, *DERIVED]))


def _other_column(value: Operand, moments: Moments, match: Match | None) -> tuple[pd.Series, float] | None:
    """Return the column that an operand names, and the number that is added to it; None where it names none."""
    if value.quoted or value.number is not None:
        return None
    found = _OTHER.fullmatch(value.text)
    # Own columns only: "phase is progression" must not be read as a column by chance of a derived name.
    if not found or found[1] not in (*moments.table.columns, "duration_s"):
        return None
    plus = float(found[3] or 0) * (-1 if found[2] == "-" else 1)
    return column_values(moments, found[1], match), plus


def _named(text: str, match: Match | None) -> set[str]:
    """Return a word and the ids that bear it as a name: players and sides may be named as on the team sheet."""
    if match is None:
        return {text}
    ids = {p.player_id for p in match.players.values() if p.name == text}
    sides = {"home": match.home, "away": match.away}
    ids |= {t.team_id for word, t in sides.items() if text in (word, t.name, t.short_name)}
    return {text, *ids}


def _names_of(value: object, match: Match | None) -> set[str]:
    if match is not None and value in match.players:
        return {match.players[str(value)].name}
    return {str(value)}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _literal(column: str, value: object) -> Operand:
    if isinstance(value, bool):
        return Operand("yes" if value else "no")
    if _is_number(value):
        return Operand(f"{value:.12g}")
    if isinstance(value, str):
        return Operand(value, _must_be_quoted(value))
    raise TacticalKitError(
        f"the condition on {column!r} has the value {value!r}; expected a number, a word, yes or no."
    )


def _must_be_quoted(text: str) -> bool:
    """Tell whether a word would be read as something else without quotes."""
    plain = re.fullmatch(r"[^\W\d][\w'-]*(?: [\w'-]+)*", text) and not text.startswith(("'", '"'))
    return not plain or bool(set(text.split()) & {"or", "and"}) or text.lower() in (*_YES, *_NO)


def _operands(text: str, joint: str) -> list[Operand] | None:
    """Split at the joint word outside quotes; None if a quote is left open or a part is empty."""
    parts: list[Operand] = []
    rest = text
    while True:
        rest = rest.strip()
        closing = _QUOTES.get(rest[:1], "")
        if (end := next((i for i, c in enumerate(rest) if i and c in closing), 0)) > 0:
            parts.append(Operand(rest[1:end], True))
            rest = rest[end + 1 :].strip()
            if not rest:
                return parts
            if not (found := re.match(rf"{joint}\b", rest)):
                return None
            rest = rest[found.end() :]
            continue
        if rest[:1] == '"':
            return None
        found = re.search(rf"\s{joint}\s", rest)
        head = (rest[: found.start()] if found else rest).strip()
        if not head or {head.split()[0], head.split()[-1]} & {joint}:  # "lost or", and then nothing
            return None
        parts.append(Operand(" ".join(head.split())))
        if not found:
            return parts
        rest = rest[found.end() :]
