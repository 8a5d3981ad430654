"""The values of a finder's columns as words: numbers with a sensible count of digits, players by name."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from tactical_kit.explorer.number_filters import NUMBER, SEVERAL, YES_NO, OwnColumn, numbers_of
from tactical_kit.match import Match

__all__ = ["UNKNOWN", "column_words", "digits_of", "name_of", "short_name"]

UNKNOWN = "–"


def name_of(match: Match, word: str) -> str:
    """Return a player or side by name where the word is an id; "marker:marked" has both named.

    Any other word is returned as it is.
    """
    if word in match.players:
        return match.players[word].name
    for team in match.teams:
        if word == team.team_id:
            return team.short_name
    head, colon, tail = word.partition(":")
    if colon and head in match.players:
        return f"{name_of(match, head)}: {name_of(match, tail)}"
    return word


def short_name(match: Match, word: str) -> str:
    """Return it for a narrow column: a player by the last part of his name."""
    if word in match.players:
        player = match.players[word]
        return player.name.split()[-1] if player.name else player.label
    head, colon, tail = word.partition(":")
    if colon and head in match.players:
        return f"{short_name(match, head)}: {short_name(match, tail)}"
    return name_of(match, word)


def digits_of(column: OwnColumn, numbers: Any) -> int:
    """Return after how many digits a column of numbers is cut: three figures that count at its usual size."""
    if column.whole:
        return 0
    known = np.abs(np.asarray(numbers, float))
    known = known[np.isfinite(known)]
    usual = float(np.median(known)) if len(known) else 0.0
    return 0 if usual >= 20 else 1 if usual >= 1 else 2


def column_words(match: Match, column: OwnColumn, values: pd.Series, digits: int, short: bool = True) -> list[str]:
    """Return every value of a column as words, without the unit; `UNKNOWN` where it is not known."""
    if column.kind == NUMBER:
        return [f"{v:.{digits}f}" if np.isfinite(v) else UNKNOWN for v in numbers_of(values)]
    if column.kind == YES_NO:
        return [UNKNOWN if v is pd.NA else "yes" if v else "no" for v in values.astype("boolean")]
    name = short_name if short else name_of
    if column.kind == SEVERAL:
        return [
            ", ".join(name(match, str(p)) for p in v) or UNKNOWN if isinstance(v, tuple) else str(v) for v in values
        ]
    return [name(match, str(v)) if isinstance(v, str) and v else UNKNOWN for v in values]
