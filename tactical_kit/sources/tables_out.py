"""Writes tables for other programs, with text that a spreadsheet would run as a formula made harmless."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pandas as pd

from tactical_kit.match import Match

__all__ = ["safe_csv", "write_events_csv", "write_table"]

_STARTERS = ("=", "+", "-", "@", "\t", "\r")


def safe_csv(value: object) -> object:
    """Return text that a spreadsheet cannot take for a formula; numbers and all else come back as they are.

    Text that starts with = + - @, a tab or a carriage return gets a leading apostrophe, which spreadsheets
    show as text.

    Notes
    -----
    Reading such a file back, the apostrophe is part of the text.  Source: common practice, no source.

    >>> safe_csv("=1+1"), safe_csv("A. Player"), safe_csv(-3.5)
    ("'=1+1", 'A. Player', -3.5)
    """
    if isinstance(value, str) and value.startswith(_STARTERS):
        return "'" + value
    return value


def write_table(table: pd.DataFrame, path: str | Path) -> Path:
    """Write a table as CSV (UTF-8, commas, one line an entry), headers and texts made harmless.

    Parameters
    ----------
    table : DataFrame
        Any table: events, moments, numbers of a chart.
    path : str or Path
        The file to make; it appears whole or not at all.

    Returns
    -------
    Path
        The file written.
    """
    path = Path(path)
    safe = table.copy()
    safe.columns = [str(safe_csv(str(c))) for c in table.columns]
    for i, name in enumerate(table.columns):
        column = table[name]
        if not (pd.api.types.is_numeric_dtype(column) or pd.api.types.is_bool_dtype(column)):
            texts = [" ".join(map(str, v)) if isinstance(v, tuple) else v for v in column]
            safe.isetitem(i, pd.Series([safe_csv(v) for v in texts], index=table.index, dtype=object))
    handle, partial = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            safe.to_csv(file, index=False, lineterminator="\n")
        os.replace(partial, path)
    except BaseException:
        Path(partial).unlink(missing_ok=True)
        raise
    return path


def write_events_csv(match: Match, path: str | Path) -> Path:
    """Write the events of a match as CSV, with the names of players beside their ids.

    Parameters
    ----------
    match : Match
        A match with events.
    path : str or Path
        The file to make.

    Raises
    ------
    MissingDataError
        The match has no events.
    """
    events = match.need_events("A table of events").copy()
    names = {p.player_id: p.name for p in match.players.values()}
    for column in ("player", "receiver"):
        place = int(list(events.columns).index(column)) + 1
        events.insert(place, f"{column}_name", [names.get(p, "") for p in events[column]])
    return write_table(events, path)
