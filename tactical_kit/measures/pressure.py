"""The pressure map: where a side's player on the ball is pressed how hard, and for how long he has it there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.measures.defending import PPDA_ACTIONS, find_defensive
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.oval import oval_limit_m, pressure_by_each, pressure_on
from tactical_kit.measures.selection import Selection, describe_gaps
from tactical_kit.measures.tables import grid_columns, typed_table
from tactical_kit.measures.words import OUT_PHASES
from tactical_kit.pitch import ZoneGrid

__all__ = ["PressureMap", "oval_limit_m", "pressure_by_each", "pressure_map", "pressure_on", "whole_match_of"]

ZONE_COLUMNS: dict[str, str] = {
    "zone": "int64",
    "name": "str",
    "x": "float64",  # middle of the zone, m
    "y": "float64",
    "pressure_pct": "float64",  # mean on the player on the ball; NaN where he never was, or without tracking
    "seconds": "float64",  # of a player on the ball; NaN without tracking
    "passes": "int64",  # of the side with the ball that start in the zone
    "defensive_actions": "int64",  # of the side without the ball
    "passes_per_action": "float64",  # NaN without an action
}


@dataclass(frozen=True, eq=False)
class PressureMap:
    """Pressure by zone within a selection.

    Parameters
    ----------
    zones : DataFrame
        One row a zone of the grid, all of them: zone, name, x, y, pressure_pct, seconds, passes,
        defensive_actions, passes_per_action.
    grid : ZoneGrid
        The zones, in the attacking frame of the selection's side.
    estimated : bool
        True if there is no tracking: then only the counts from events speak, the coarser thing.
    on_side : bool
        True: pressure on the selection's side.  False: the pressure it puts on the opponents.
    mean_pct : float
        Mean over all frames with a player on the ball, %; NaN without tracking.
    seconds : float
        Seconds with a player on the ball; NaN without tracking.
    n : int
        Frames with a player on the ball; without tracking passes and defensive actions.
    note : str
        What was left out, or why there is little; "" if nothing.
    selection : Selection
        What was asked.
    params : dict
        Thresholds used.
    """

    zones: pd.DataFrame
    grid: ZoneGrid
    estimated: bool
    on_side: bool
    mean_pct: float
    seconds: float
    n: int
    note: str
    selection: Selection
    params: dict[str, object]

    def values(self, column: str = "pressure_pct") -> NDArray[np.float64]:
        """Return a column as an array in the shape of the grid: columns along the pitch, rows across."""
        return self.zones[column].to_numpy(float).reshape(self.grid.shape)


def whole_match_of(selection: Selection) -> Selection:
    """Return the whole match that a selection's pressure is compared with: the same side, on the same side of the ball.

    A pressing selection (only phases without the ball) maps the pressure that the side puts on; it is compared with
    all its play without the ball, or the two maps would speak of different players.
    """
    # "set play" is a phase of both sides of the ball.
    kept = frozenset() if selection.has_ball else frozenset(OUT_PHASES) - {"set play"}
    return Selection(team=selection.team, phases=kept)


def pressure_map(
    index: MatchIndex,
    selection: Selection | None = None,
    grid: ZoneGrid | None = None,
    min_seconds: float = 0.0,
    few_seconds: float = 30.0,
) -> PressureMap:
    """Map the mean pressure on the player on the ball, and the seconds he has it, zone by zone.

    Parameters
    ----------
    index : MatchIndex
        With tracking: pressure by the oval.  With events alone: counts, marked as estimated.
    selection : Selection, optional
        Default the whole match.  Normally the side has the ball and is pressed; if it names only phases out of
        possession (say a high press), the opponents have the ball and the map shows the pressure the side puts
        on them.  Without a team both sides count, each in its own attacking frame.
    grid : ZoneGrid, optional
        Default 12 x 8 equal zones.
    min_seconds : float, default 0
        Zones with less time on the ball than this have no mean pressure, s.
    few_seconds : float, default 30
        With less time than this in all the note warns, s.

    Returns
    -------
    PressureMap
        Without a frame or an action every zone holds zeros and NaN.

    Raises
    ------
    UnknownNameError
        The selection names what the match does not know.

    Notes
    -----
    Frames in which nobody is on the ball (a pass on its way, a loose ball) do not count, so the map speaks of
    players, not of the ball.  Every zone is in the attacking frame of the selection's side.
    The counts from events are coarser: a press that forces a bad pass without a tackle leaves no action.
    Source: after Andrienko et al. 2017 (see `oval_limit_m`), parameters not verified; counts as in
    `passes_per_defensive_action`.
    """
    selection = selection or Selection()
    selection.check_names(index.match, index.phase_names)
    grid = grid or index.match.pitch.grid(12, 8)
    size, on_side = len(grid), selection.has_ball
    turn = 1.0 if on_side else -1.0

    frames = index.frames
    mask = selection.frame_mask(index) & np.isfinite(frames.pressure)
    onto = index.match.pitch.onto
    zone = grid.zone_of(*onto(frames.x[mask] * turn, frames.y[mask] * turn)).astype(np.int64)
    held, pressure = zone[zone >= 0], frames.pressure[mask][zone >= 0].astype(float)
    number = np.bincount(held, minlength=size)
    seconds = number * frames.frame_s
    shown = (number > 0) & (seconds >= min_seconds)
    total = np.bincount(held, weights=pressure, minlength=size)
    mean = np.divide(total, number, out=np.full(size, np.nan), where=shown)

    c = index.codes
    with_ball, without = ("own", "opponent") if on_side else ("opponent", "own")
    passes = selection.action_mask(index, with_ball) & c.is_kind("pass") & (c.team >= 0)
    zone = grid.zone_of(*onto(c.x[passes] * turn, c.y[passes] * turn)).astype(np.int64)
    passed = np.bincount(zone[zone >= 0], minlength=size)
    listed = find_defensive(index, selection, PPDA_ACTIONS, without)
    # Their own frame is the turned frame of the side with the ball.
    zone = grid.zone_of(*onto(listed.x * -turn, listed.y * -turn)).astype(np.int64)
    acted = np.bincount(zone[zone >= 0], minlength=size)

    estimated = not index.has_frames
    n = int(passed.sum() + acted.sum()) if estimated else len(held)
    names, x, y = grid_columns(grid)
    zones = typed_table(ZONE_COLUMNS, {
        "zone": np.arange(size), "name": names, "x": x, "y": y, "pressure_pct": mean,
        "seconds": np.full(size, np.nan) if estimated else seconds, "passes": passed, "defensive_actions": acted,
        "passes_per_action": np.divide(passed, acted, out=np.full(size, np.nan), where=acted > 0),
    })  # fmt: skip
    return PressureMap(
        zones=zones,
        grid=grid,
        estimated=estimated,
        on_side=on_side,
        mean_pct=float(pressure.mean()) if len(pressure) else np.nan,
        seconds=np.nan if estimated else len(held) * frames.frame_s,
        n=n,
        note=_note(index, selection, estimated, n, few_seconds),
        selection=selection,
        params={"min_seconds": min_seconds, "actions": PPDA_ACTIONS, **index.params},
    )


def _note(index: MatchIndex, selection: Selection, estimated: bool, n: int, few_seconds: float) -> str:
    notes = [describe_gaps(index, selection, of_time=True)]
    if estimated:
        notes.append("no tracking: passes and defensive actions from events, the coarser thing")
    if selection.players or selection.under_pressure is not None:
        notes.append("players and pressure do not narrow the defensive actions")
    if not n:
        notes.append("nobody is on the ball within the selection" if not estimated else "no action fits the selection")
    elif not estimated and n * index.frames.frame_s < few_seconds:
        notes.append(f"only {n * index.frames.frame_s:.0f} s on the ball: the map is rough")
    return "; ".join(filter(None, notes))
