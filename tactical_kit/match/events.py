"""The events table: its columns, types and words, declared once."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError

__all__ = [
    "BODY_PARTS", "CARD_DETAILS", "EVENT_COLUMNS", "KINDS", "PASS_DETAILS", "PASS_OUTCOMES", "SET_PLAYS",
    "SHOT_DETAILS", "SHOT_OUTCOMES", "empty_events", "events_table",
]  # fmt: skip

KINDS = (
    "pass", "carry", "shot", "take-on", "tackle", "interception", "recovery", "clearance", "block", "duel",
    "save", "claim", "touch", "foul", "offside", "out", "card", "substitution", "period-start", "period-end",
)  # fmt: skip
SET_PLAYS = ("kick-off", "goal-kick", "throw-in", "corner", "free-kick", "penalty", "drop-ball")
PASS_DETAILS = ("cross", "long", "through", "cut-back", "header")
SHOT_DETAILS = ("header", "own-goal")
CARD_DETAILS = ("yellow", "second-yellow", "red")
PASS_OUTCOMES = ("complete", "intercepted", "out", "offside", "blocked")
SHOT_OUTCOMES = ("goal", "saved", "blocked", "off-target", "woodwork")
BODY_PARTS = ("right_foot", "left_foot", "head", "hands", "other")

EVENT_COLUMNS: dict[str, str] = {
    "event_id": "str",
    "period": "int8",
    "time_s": "float64",  # seconds from the start of the period
    "end_s": "float64",  # reception or end of the action; NaN unknown
    "kind": "str",  # one of KINDS
    "detail": "str",
    "set_play": "str",  # restart, one of SET_PLAYS, on the action that takes it
    "team": "str",  # team_id
    "player": "str",  # player_id
    "receiver": "str",  # who controls the ball next; the player coming on at a substitution
    "success": "boolean",
    "outcome": "str",
    "x": "float64",  # metres, pitch frame
    "y": "float64",
    "end_x": "float64",
    "end_y": "float64",
    "body_part": "str",
    "related": "str",  # event_id of the event this one answers, or ""
}
_FILL = {"str": "", "int8": 0, "float64": np.nan, "boolean": pd.NA}


def empty_events() -> pd.DataFrame:
    """Return an events table of no rows with every column in its type."""
    return pd.DataFrame({name: pd.Series([], dtype=dtype) for name, dtype in EVENT_COLUMNS.items()})


def events_table(rows: pd.DataFrame | Iterable[dict[str, object]]) -> pd.DataFrame:
    """Bring rows into the form of the events table: all columns, their types, sorted by time.

    Parameters
    ----------
    rows : DataFrame or iterable of dict
        Missing columns are filled with "", NaN or <NA>; columns the kit does not know are kept at the end.

    Returns
    -------
    DataFrame
        Columns of `EVENT_COLUMNS`; the order of rows with equal time is kept.  Rows without an
        `event_id` get "e0001", "e0002"...  An own goal with no outcome told is a goal: the word says so.

    Raises
    ------
    TacticalKitError
        A column whose values do not fit its type.
    """
    table = pd.DataFrame(rows if isinstance(rows, pd.DataFrame) else list(rows)).copy()
    for name, dtype in EVENT_COLUMNS.items():
        if name not in table:
            table[name] = pd.Series(_FILL[dtype], index=table.index, dtype=dtype)
            continue
        column = table[name]
        try:
            if dtype == "str":
                column = column.astype(object).where(column.notna(), "").astype("str")
            elif dtype == "int8":
                column = pd.to_numeric(column)
                if column.isna().any() or not (column == column.astype("int8")).all():
                    raise ValueError("not a whole number from -128 to 127")
            table[name] = column.astype(dtype)
        except (TypeError, ValueError, OverflowError) as error:
            raise TacticalKitError(f"events column {name!r} does not fit type {dtype}: {error}.") from error
    extras = [c for c in table.columns if c not in EVENT_COLUMNS]
    table = table[[*EVENT_COLUMNS, *extras]]
    table = table.sort_values(["period", "time_s"], kind="stable", ignore_index=True)
    own_goal = (table["kind"] == "shot") & (table["detail"] == "own-goal") & (table["outcome"] == "")
    if own_goal.any():
        table.loc[own_goal, "outcome"] = "goal"
        table.loc[own_goal, "success"] = True
    missing = table["event_id"] == ""
    if missing.any():
        width = max(4, len(str(len(table))))
        names = pd.Series([f"e{i + 1:0{width}d}" for i in range(len(table))], dtype="str")
        table["event_id"] = table["event_id"].where(~missing, names)
    return table
