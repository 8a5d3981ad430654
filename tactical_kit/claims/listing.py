"""Finders and moments as plain text and as tables for other programs: what can be asked, and what was found."""

from __future__ import annotations

import inspect
import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from tactical_kit.claims.base import counted
from tactical_kit.claims.conditions import DERIVED
from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.finders import get_finder, list_finders
from tactical_kit.match import Match
from tactical_kit.moments import CORE_COLUMNS, Moments

__all__ = ["about_finder", "check_threshold", "finders_text", "moments_table", "moments_text", "threshold_value"]

_HEAD = ("moment_id", "clock", "until", "team")
_KINDS = {"float64": "number", "int64": "count", "bool": "yes or no", "boolean": "yes, no or unknown", "str": "word"}


def finders_text(match: Match | None = None, width: int = 110) -> str:
    """List every finder: name, what it needs, what it finds; with a match also what the match lacks for it.

    Parameters
    ----------
    match : Match, optional
        The match it should run on.
    width : int, default 110
        Columns of the terminal.
    """
    table = list_finders(match)
    longest = max(map(len, table["name"]))
    lines = []
    for name, finds in zip(table["name"], table["finds"]):
        lines.append(f"{name:<{longest}}  needs {_needs(get_finder(name).needs)}")
        lines += [f"    {line}" for line in textwrap.wrap(finds, max(40, width - 4))]
        if match is not None and (missing := get_finder(name).missing(match)):
            lines.append(f"    Cannot run here: this match has no {_needs(missing)}.")
    if match is not None:
        able = int(table["can_run"].sum())
        lines += ["", f"{able} of {counted(len(table), 'finder')} can run on a match with {match.level}."]
    return "\n".join(lines)


def _needs(needs: Sequence[str]) -> str:
    """Join what is needed; what holds several ways stands in brackets beside another."""
    several = len(needs) > 1
    return " and ".join(f"({need})" if several and " or " in need else need for need in needs) or "nothing"


def about_finder(name: str, width: int = 110) -> str:
    """Tell all about one finder: what it finds and needs, its columns with units, its thresholds with defaults.

    Raises
    ------
    UnknownNameError
        No such finder; the message lists them.
    """
    finder = get_finder(name)
    lines = [finder.name, *textwrap.wrap(finder.finds, width), "", f"needs       {_needs(finder.needs)}"]
    lines.append(f"in Python   tk.{inspect.unwrap(finder.function).__name__}(match)")
    own = [(n, c.unit or _KINDS.get(c.dtype, "players"), c.words) for n, c in finder.columns.items()]
    told = [(c, "", words) for c, words in DERIVED.items() if c not in finder.columns]
    lines += _listed("columns", own, width)
    lines += _listed("told of any moment", told, width)
    lines += ["", f"and         {', '.join(CORE_COLUMNS)}"]
    said = _parameters(inspect.getdoc(finder.function) or "")
    thresholds = [(n, f"{value!r}", said.get(n, "")) for n, value in finder.thresholds.items()]
    lines += _listed("thresholds, with their defaults", thresholds, width)
    return "\n".join(lines)


def _parameters(doc: str) -> dict[str, str]:
    """Return what a docstring says of each parameter, without the marks of code."""
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-{3,}|\Z)", doc, re.MULTILINE | re.DOTALL)
    said: dict[str, str] = {}
    entry = re.compile(r"^(\w+(?:, \w+)*) : .*\n((?:[ \t]+.*\n?)+)", re.MULTILINE)
    for names, words in entry.findall(section[1] if section else ""):
        for name in names.split(", "):
            said[name] = " ".join(words.split()).replace("`", "")
    return said


def _listed(title: str, rows: list[tuple[str, str, str]], width: int) -> list[str]:
    if not rows:
        return []
    first, second = (max(len(r[i]) for r in rows) for i in (0, 1))
    gap = first + second + 6
    lines = ["", title]
    for name, kind, words in rows:
        head, *more = textwrap.wrap(words, max(30, width - gap)) or [""]
        lines.append(f"  {name:<{first}}  {kind:<{second}}  {head}".rstrip())
        lines += [" " * gap + line for line in more]
    return lines


def threshold_value(finder_name: str, setting: str) -> tuple[str, Any]:
    """Return name and value of a threshold written as "within_m=8"; the kind of its default says how it is read.

    Raises
    ------
    TacticalKitError
        No "=", a threshold that the finder has not, or a value of another kind than the default.

    >>> threshold_value("shot", "before_s=5")
    ('before_s', 5.0)
    """
    name, equals, text = (part.strip() for part in setting.partition("="))
    if not equals:
        raise TacticalKitError(f"{setting!r} sets nothing; expected threshold=value, as before_s=5.")
    defaults = get_finder(finder_name).thresholds
    check_choice(f"a threshold of finder {finder_name!r}", name, defaults)
    default, value = defaults[name], text
    if isinstance(default, bool):
        if text.lower() not in ("yes", "no", "true", "false"):
            raise TacticalKitError(f"{name} is {text!r}; expected yes or no.")
        return name, text.lower() in ("yes", "true")
    if isinstance(default, int | float):
        try:
            number = float(text)
        except ValueError:
            raise TacticalKitError(f"{name} is {text!r}; expected a number, as its default {default!r}.") from None
        if math.isnan(number):
            raise TacticalKitError(f"{name} is {text!r}; expected a number, as its default {default!r}.")
        return name, int(number) if isinstance(default, int) and number.is_integer() else number
    return name, value


def check_threshold(defaults: Mapping[str, object], finder_name: str, name: str, value: object) -> None:
    """Refuse a threshold that a finder has not, or a value of another kind than its default."""
    check_choice(f"a threshold of finder {finder_name!r}", name, defaults)
    default = defaults[name]
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and not math.isnan(value)
    if isinstance(default, bool):
        right, wanted = isinstance(value, bool), "true or false"
    elif isinstance(default, int | float):
        right, wanted = is_number, "a number"
    elif isinstance(default, str):
        right, wanted = isinstance(value, str), "a word"
    else:
        return
    if not right:
        raise TacticalKitError(f"{name} is {value!r}; expected {wanted}, as its default {default!r}.")


def moments_table(moments: Moments, match: Match) -> pd.DataFrame:
    """Return the moments for a reader: the clock beside the seconds, sides and players by name.

    Returns
    -------
    DataFrame
        moment_id, clock, until, team, players, then period, start_s, end_s, x, y and the finder's own columns.
    """
    table = moments.table
    names = {p.player_id: p.name for p in match.players.values()} | {t.team_id: t.short_name for t in match.teams}

    def named(value: object) -> object:
        if isinstance(value, tuple):
            return ", ".join(str(names.get(v, v)) for v in value)
        return names.get(value, value) if isinstance(value, str) else value

    clock = [match.clock.label(int(p), float(s)) for p, s in zip(table["period"], table["start_s"])]
    until = [match.clock.label(int(p), float(s)) for p, s in zip(table["period"], table["end_s"])]
    own = [c for c in table.columns if c not in CORE_COLUMNS]
    shown = pd.DataFrame({"moment_id": table["moment_id"], "clock": clock, "until": until})
    for column in ("team", "players", "period", "start_s", "end_s", "x", "y", *own):
        values = table[column]
        is_text = not pd.api.types.is_numeric_dtype(values) and not pd.api.types.is_bool_dtype(values)
        shown[column] = pd.Series([named(v) for v in values], dtype=object) if is_text else values
    return shown


def moments_text(moments: Moments, match: Match, width: int | None = None) -> str:
    """Return the moments as a table of text, and how many they are; as paragraphs where it is wider than `width`."""
    said = counted(len(moments), "moment") + f" of {moments.finder!r}."
    if not len(moments):
        return said
    table = moments_table(moments, match).drop(columns=["period", "start_s", "end_s"])
    plain = table.map(_plain)
    text = plain.to_string(index=False)
    if width is not None and len(text.partition("\n")[0]) > width:
        text = "\n".join(_paragraph(row, max(width, 40)) for row in plain.to_dict("records"))
    return f"{text}\n\n{said}"


def _paragraph(row: Mapping[Any, str], width: int) -> str:
    """Tell one moment in lines that fit: first what, when and who, then its numbers, without those that are empty."""
    head = f"{row['moment_id']}  {row['clock']} to {row['until']}  {row['team']}"
    rest = [f"{name} {value}" for name, value in row.items() if value and name not in _HEAD]
    # A name stays with its value.
    folded = textwrap.wrap(", ".join(part.replace(" ", "\N{NO-BREAK SPACE}") for part in rest), width - 4)
    return "\n".join([head, *(f"    {line}" for line in folded)]).replace("\N{NO-BREAK SPACE}", " ")


def _plain(value: object) -> str:
    """Return a value as it can be shown on a terminal: no control characters, numbers with two decimals at most."""
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return "".join(c if c.isprintable() else "�" for c in str(value))
