"""Progression: where the ball gains ground, by what, and how it gets into the final third and the box."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.selection import Selection, describe_gaps
from tactical_kit.measures.tables import grid_columns, typed_table
from tactical_kit.pitch import CORRIDORS, Pitch, ZoneGrid

__all__ = ["ENTRIES", "MEANS", "ProgressionZones", "progression_zones"]

MEANS = ("pass", "carry", "long ball")
ENTRIES = ("final third", "box")

ZONE_COLUMNS: dict[str, str] = {
    "zone": "int64",
    "name": "str",
    "x": "float64",  # middle of the zone, attacking frame, m
    "y": "float64",
    "gained_m": "float64",
    "gained_pass_m": "float64",
    "gained_carry_m": "float64",
    "gained_long_m": "float64",
    "actions": "int64",
    "passes": "int64",
    "carries": "int64",
    "long_balls": "int64",
    "mean_gain_m": "float64",
}
FLOW_COLUMNS: dict[str, str] = {
    "from_zone": "int64",
    "to_zone": "int64",
    "count": "int64",
    "gained_m": "float64",
    "mean_gain_m": "float64",
    "x": "float64",
    "y": "float64",
    "end_x": "float64",
    "end_y": "float64",
}
ENTRY_COLUMNS: dict[str, str] = {"entry": "str", "corridor": "str", "by": "str", "count": "int64"}


@dataclass(frozen=True, eq=False)
class ProgressionZones:
    """Ground gained within a selection.

    Parameters
    ----------
    zones : DataFrame
        One row a zone of the grid, all of them: zone, name, x, y (its middle), gained_m, gained_pass_m,
        gained_carry_m, gained_long_m, actions, passes, carries, long_balls (those that gained ground there),
        mean_gain_m (NaN without an action).
    flows : DataFrame
        One row a pair of different zones between which ground was gained: from_zone, to_zone, count,
        gained_m, mean_gain_m, and x, y, end_x, end_y, the mean start and end.  Most frequent first.
    entries : DataFrame
        entry ("final third", "box"), corridor, by ("pass", "carry", "long ball"), count; only what occurred.
    grid : ZoneGrid
        The zones.
    n : int
        Actions that gained ground.
    note : str
        What was left out, or why there is little; "" if nothing.
    selection : Selection
        What was asked.
    params : dict
        Thresholds used.
    """

    zones: pd.DataFrame
    flows: pd.DataFrame
    entries: pd.DataFrame
    grid: ZoneGrid
    n: int
    note: str
    selection: Selection
    params: dict[str, float]


def progression_zones(
    index: MatchIndex,
    selection: Selection | None = None,
    grid: ZoneGrid | None = None,
    long_ball_m: float = 32.0,
    min_gain_m: float = 0.0,
    few: int = 20,
) -> ProgressionZones:
    """Add up the ground that passes, carries and long balls gain towards the goal, zone by zone.

    Parameters
    ----------
    index : MatchIndex
        Needs events.
    selection : Selection, optional
        Default the whole match.  Without a team both sides count, each in its own attacking frame.
    grid : ZoneGrid, optional
        Default the fifteen named zones.
    long_ball_m : float, default 32
        A completed pass of at least this length is a long ball, not a pass, m.
    min_gain_m : float, default 0
        An action counts if the ball ends *more than* this further up the pitch than it started, m.
    few : int, default 20
        With fewer actions than this the note warns.

    Returns
    -------
    ProgressionZones
        Without an action every zone holds zeros, flows and entries are empty and typed.

    Raises
    ------
    UnknownNameError
        The selection names what the match does not know.
    TacticalKitError
        A negative threshold.

    Notes
    -----
    Gain: end_x - x in the attacking frame, metres along the pitch; it belongs to the zone where the action
    starts.  Counted are completed passes and carries (unless marked as failed) with a known start and end;
    what loses ground takes nothing away.  A pass out of play or to an opponent gains nothing.  A place up to 3 m
    beyond a line (a throw-in) belongs to the zone at that line.
    Entry to the final third: starts before its limit and ends on or beyond it; the corridor is where the
    straight line crosses the limit.  Entry to the box: starts outside the attacked penalty area and ends in it
    or on its line; the corridor is where the action starts, as that is where the box was attacked from.  Entries
    count whether or not `min_gain_m` is met: a ball pulled back into the box enters it.
    Source: common practice, no source; 32 m is about 35 yards, others say 25 or 30 m.
    """
    selection = selection or Selection()
    if not (long_ball_m >= 0 and min_gain_m >= 0):
        raise TacticalKitError(
            f"long_ball_m is {long_ball_m!r} and min_gain_m {min_gain_m!r}; expected metres, at least 0."
        )
    selection.check_names(index.match, index.phase_names)
    pitch = index.match.pitch
    grid = grid or pitch.named_zones()
    c = index.codes
    moved = (c.is_kind("pass") & (c.success == 1)) | (c.is_kind("carry") & (c.success != 0))
    moved &= c.team >= 0  # without a side there is no goal to gain ground towards
    moved &= np.isfinite(c.x) & np.isfinite(c.y) & np.isfinite(c.end_x) & np.isfinite(c.end_y)
    rows = np.flatnonzero(selection.action_mask(index) & moved)
    x, y, end_x, end_y = c.x[rows], c.y[rows], c.end_x[rows], c.end_y[rows]
    by = np.where(c.is_kind("carry")[rows], 1, np.where(np.hypot(end_x - x, end_y - y) >= long_ball_m, 2, 0))
    gain = end_x - x
    start, end = grid.zone_of(*pitch.onto(x, y)), grid.zone_of(*pitch.onto(end_x, end_y))
    up = (gain > min_gain_m) & (start >= 0)

    notes = [] if index.has_events else ["progression needs events"]
    if gaps := describe_gaps(index, selection, with_ball=True):
        notes.append(gaps)
    n = int(up.sum())
    if not n:
        notes.append("no pass or carry that gains ground fits the selection")
    elif n < few:
        notes.append(f"only {n} actions: the map is rough")
    return ProgressionZones(
        zones=_zones(grid, start[up], by[up], gain[up]),
        flows=_flows(grid, start[up], end[up], gain[up], (x[up], y[up], end_x[up], end_y[up])),
        entries=_entries(pitch, x, y, end_x, end_y, by),
        grid=grid,
        n=n,
        note="; ".join(notes),
        selection=selection,
        params={"long_ball_m": long_ball_m, "min_gain_m": min_gain_m},
    )


def _zones(
    grid: ZoneGrid, start: NDArray[np.integer], by: NDArray[np.integer], gain: NDArray[np.float64]
) -> pd.DataFrame:
    size = len(grid)
    cell = start.astype(np.int64) * len(MEANS) + by
    count = np.bincount(cell, minlength=size * len(MEANS)).reshape(size, -1)
    metres = np.bincount(cell, weights=gain, minlength=size * len(MEANS)).reshape(size, -1)
    actions, gained = count.sum(axis=1), metres.sum(axis=1)
    names, x, y = grid_columns(grid)
    return typed_table(ZONE_COLUMNS, {
        "zone": np.arange(size), "name": names, "x": x, "y": y, "gained_m": gained,
        "gained_pass_m": metres[:, 0], "gained_carry_m": metres[:, 1], "gained_long_m": metres[:, 2],
        "actions": actions, "passes": count[:, 0], "carries": count[:, 1], "long_balls": count[:, 2],
        "mean_gain_m": np.divide(gained, actions, out=np.full(size, np.nan), where=actions > 0),
    })  # fmt: skip


def _flows(
    grid: ZoneGrid,
    start: NDArray[np.integer],
    end: NDArray[np.integer],
    gain: NDArray[np.float64],
    places: tuple[NDArray[np.float64], ...],
) -> pd.DataFrame:
    leaves = (start != end) & (end >= 0)
    size = len(grid)
    pair, where = np.unique(start[leaves].astype(np.int64) * size + end[leaves], return_inverse=True)
    count = np.bincount(where, minlength=len(pair))
    metres = np.bincount(where, weights=gain[leaves], minlength=len(pair))
    means = [np.bincount(where, weights=v[leaves], minlength=len(pair)) / count for v in places]
    order = np.lexsort((pair, -metres, -count))  # most frequent first, then most ground
    columns = [pair // size, pair % size, count, metres, metres / count, *means]
    return typed_table(FLOW_COLUMNS, dict(zip(FLOW_COLUMNS, (v[order] for v in columns), strict=True)))


def _entries(
    pitch: Pitch,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    end_x: NDArray[np.float64],
    end_y: NDArray[np.float64],
    by: NDArray[np.integer],
) -> pd.DataFrame:
    limit = pitch.third_edges[2]
    third = (x < limit) & (end_x >= limit)
    run = np.where(end_x > x, end_x - x, 1.0)  # only used where the ball goes up the pitch
    crossing = y + (end_y - y) * np.clip((limit - x) / run, 0, 1)
    box = ~pitch.in_penalty_area(*pitch.onto(x, y)) & pitch.in_penalty_area(*pitch.onto(end_x, end_y))
    rows = []
    for name, mask, across in ((ENTRIES[0], third, crossing), (ENTRIES[1], box, y)):
        corridor = pitch.corridor_of(pitch.onto(0.0, across[mask])[1]).astype(np.int64)
        cell = (corridor * len(MEANS) + by[mask])[corridor >= 0]
        count = np.bincount(cell, minlength=len(CORRIDORS) * len(MEANS))
        rows += [
            (name, CORRIDORS[i // len(MEANS)], MEANS[i % len(MEANS)], int(count[i])) for i in np.flatnonzero(count)
        ]
    columns = zip(*rows, strict=True) if rows else ([] for _ in ENTRY_COLUMNS)
    return typed_table(ENTRY_COLUMNS, dict(zip(ENTRY_COLUMNS, columns, strict=True)))
