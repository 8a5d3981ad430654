"""Which moments a selection touches: those that hold at least one of its frames or actions."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.selection import Selection

__all__ = ["held", "in_time", "masks_of", "phase_rows", "spans_of"]

# First and one past the last index of each moment in one kind of instant.
Spans = tuple[NDArray[np.integer[Any]], NDArray[np.integer[Any]]]


def masks_of(index: MatchIndex, selection: Selection, with_ball: bool | None = None) -> list[NDArray[np.bool_]]:
    """Return what a selection holds of the frames and of the actions, each where the match has them."""
    masks = [selection.frame_mask(index, with_ball)] if index.has_frames else []
    return [*masks, selection.action_mask(index)] if index.has_events else masks


def spans_of(index: MatchIndex, table: pd.DataFrame) -> list[Spans]:
    """Return where each moment of a table begins and ends among the frames and the actions, as in `masks_of`."""
    clock = index.match.clock
    start = clock.timeline(table["period"], table["start_s"])
    end = np.maximum(clock.timeline(table["period"], table["end_s"]), start + 0.01)
    instants = []
    if index.has_frames:
        instants.append(index.frames.timeline_s)
    # A shot or a pass under pressure lasts no time: actions count beside frames.
    if index.has_events:
        instants.append(index.actions["timeline_s"].to_numpy(float))
    return [(np.searchsorted(at, start - 1e-6), np.searchsorted(at, end - 1e-6)) for at in instants]


def held(spans: list[Spans], masks: list[NDArray[np.bool_]]) -> NDArray[np.bool_]:
    """Tell which moments hold at least one True of the masks that belong to their spans."""
    found = np.zeros(len(spans[0][0]) if spans else 0, bool)
    for (first, last), mask in zip(spans, masks):
        total = np.concatenate(([0], np.cumsum(mask)))
        found |= total[last] > total[first]
    return found


def phase_rows(match: Match, table: pd.DataFrame, selection: Selection) -> NDArray[np.bool_]:
    """Tell which rows of a table of phases are of the sides and phases that a selection asks for."""
    phases, others = selection.phases, selection.opponent_phases
    own = table["phase"].isin(phases).to_numpy(bool) if phases else np.ones(len(table), bool)
    other = table["phase"].isin(others).to_numpy(bool)
    if selection.team is None:
        return own | other
    mine = (table["team"] == match.team(selection.team).team_id).to_numpy(bool)
    if not phases:
        own &= not others  # only what the other side does is asked
    return (mine & own) | (~mine & other)


def in_time(table: pd.DataFrame, segment: tuple[tuple[int, float, float], ...] | None) -> NDArray[np.bool_]:
    """Tell which moments overlap the spans of a segment; None is the whole match."""
    if segment is None:
        return np.ones(len(table), bool)
    keep = np.zeros(len(table), bool)
    for period, start, end in segment:
        keep |= ((table["period"] == period) & (table["start_s"] < end) & (table["end_s"] > start)).to_numpy(bool)
    return keep
