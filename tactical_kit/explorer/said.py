"""Sentences on a selection: how much it holds, what emptied it, what the match cannot show."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.selection import Selection, describe_gaps
from tactical_kit.moments import Moments

__all__ = ["count_words", "empty_words", "gap_words"]


def _action_word(selection: Selection, n: int) -> str:
    # A side that presses tackles and intercepts: those are not all actions on the ball.
    return ("action" if n == 1 else "actions") + (" on the ball" if selection.has_ball else "")


def count_words(index: MatchIndex, selection: Selection, n: int, seconds: float) -> str:
    """Return how much a selection holds, few instances called few."""
    parts = []
    if index.has_events:
        word = _action_word(selection, n)
        parts.append(f"{'few: ' if 0 < n < 30 else ''}n = {n} {word}")
    if index.has_frames:
        minutes, rest = divmod(round(seconds), 60)
        played = "of play"
        if selection.team is not None:
            played = "with the ball" if selection.has_ball else "without the ball"
        parts.append(f"{minutes}:{rest:02d} min {played}")
    return ", ".join(parts) or "nothing to count: neither events nor tracking"


def empty_words(index: MatchIndex, selection: Selection, conditions: pd.DataFrame) -> str:
    """Return which condition of an empty selection emptied it; `conditions` come from `count_conditions`."""
    if not (index.has_events or index.has_frames):
        return "This match has neither events nor tracking, so there is nothing to select."
    column = "left" if index.has_events else "seconds_left"
    unit = _action_word(selection, 2) if column == "left" else "seconds"
    first = int(np.flatnonzero(conditions[column].to_numpy() <= 0)[0])
    if first == 0:
        return f"The match holds no {unit}."
    row, before = conditions.iloc[first], conditions.iloc[first - 1]
    said = (
        f"Nothing is left: “{row['condition']}” keeps none of the {before[column]:.0f} {unit} "
        f"that the conditions before it leave."
    )
    without = float(row[column.replace("left", "without")])
    if without > 0:
        said += f" Without it there would be {without:.0f}."
    else:
        said += " Dropping it alone does not help: the others exclude one another, too."
    gaps = describe_gaps(index, selection)
    return f"{said} ({gaps})" if gaps else said


def gap_words(match: Match, phases: Moments | None) -> list[str]:
    """Return what a match cannot show, each in a sentence."""
    said = []
    if match.tracking is None:
        said.append("No tracking: there is no moving pitch, and pressure is the coarser count of defensive actions.")
    if match.events is None:
        said.append("No events: there is no pass network, and progression, score and shots are missing.")
    if phases is None:
        said.append("No phases of play: they need events or tracking.")
    elif len(phases) and bool(phases["estimated"].all()):
        said.append("Phases are estimated from events alone.")
    return said
