"""Cues to press: passes and touches after which a side without the ball likes to jump."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tactical_kit.match import Match
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import sides_at

__all__ = ["CUES", "CUE_COLUMNS", "cue_table"]

# In the order in which they are asked: the first that fits names the cue.
CUES = (
    "goal kick",
    "pass to keeper",
    "back pass",
    "pass to full-back",
    "sideline",
    "receiver facing own goal",
    "slow square pass",
    "poor touch",
)
CUE_COLUMNS: dict[str, str] = {
    "period": "int8",
    "time_s": "float64",  # when the ball is struck, or touched badly
    "end_s": "float64",  # when it arrives; for a touch the same instant
    "team": "str",  # the side with the ball
    "player": "str",  # who plays it; "" for a touch
    "target": "str",  # who has it then
    "cue": "str",  # "" for a pass that is none
    "x": "float64",  # where he gets it, attacking frame of the side with the ball, m
    "y": "float64",
    "estimated": "bool",
}
_FULL_BACKS = ("RB", "LB", "RWB", "LWB")


def cue_table(
    match: Match,
    *,
    back_m: float = 4.0,
    sideline_m: float = 8.0,
    square_m: float = 12.0,
    slow_ms: float = 9.0,
    towards_own_ms: float = 0.5,
    tight_m: float = 3.0,
) -> pd.DataFrame:
    """List the completed passes and the poor touches of both sides, each with the cue it gives the opponents.

    Parameters
    ----------
    match : Match
        With tracking; passes come from the events where there are any, poor touches and goal kicks only from them.
    back_m : float, default 4
        A back pass goes at least so far towards the own goal line, m.
    sideline_m : float, default 8
        A ball received at most so far from a touchline is at the sideline, m.
    square_m, slow_ms : float, default 12 and 9
        A slow square pass goes at least so far, further across than twice what it gains or loses, and is slower
        than so much on average, m and m/s.
    towards_own_ms, tight_m : float, default 0.5 and 3
        The receiver of a forward pass faces his own goal if he comes towards it at this speed or more when the ball
        arrives, m/s, or if an opponent is at most so far from him on the side of the goal he attacks, m.

    Returns
    -------
    DataFrame
        `CUE_COLUMNS`, in order of time; `cue` is one of `CUES`, or "" where the pass gives none.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    Several may be true at once; the first in the order of `CUES` names it.  How a player's body is turned is in no
    tracking: facing the own goal is guessed from the way he moves and from who stands behind him.  Without events
    full-backs and keepers are still known by the squads' positions, where they are given.
    Source: the cues are common practice, no source; the metres too.
    """
    tracking = match.need_tracking("A cue to press")
    passes = pass_table(match)
    passes = passes[passes["complete"] & (passes["receiver"] != "") & (passes["end_frame"] >= 0)]
    parts = [
        _pass_cues(match, passes[passes["team"] == team.team_id], back_m, sideline_m, square_m, slow_ms,
                   towards_own_ms, tight_m)
        for team in match.teams
    ]  # fmt: skip
    if match.events is not None:
        events = match.attacking_events
        poor = events[(events["kind"] == "touch") & (events["team"] != "") & (events["player"] != "")]
        parts.append(
            pd.DataFrame({
                "period": poor["period"], "time_s": poor["time_s"], "end_s": poor["time_s"], "team": poor["team"],
                "player": "", "target": poor["player"], "cue": "poor touch", "x": poor["x"], "y": poor["y"],
                "estimated": False,
            })
        )  # fmt: skip
    parts = [p for p in parts if len(p)]
    if not parts or not len(tracking):
        return pd.DataFrame({name: pd.Series([], dtype=dtype) for name, dtype in CUE_COLUMNS.items()})
    table = pd.concat(parts, ignore_index=True).sort_values(["period", "time_s", "team"], ignore_index=True)
    return table[list(CUE_COLUMNS)].astype(CUE_COLUMNS)


def _pass_cues(
    match: Match,
    passes: pd.DataFrame,
    back_m: float,
    sideline_m: float,
    square_m: float,
    slow_ms: float,
    towards_own_ms: float,
    tight_m: float,
) -> pd.DataFrame:
    """Name the cue of each pass of one side."""
    if not len(passes):
        return pd.DataFrame(columns=list(CUE_COLUMNS))
    team = str(passes["team"].iloc[0])
    sides = sides_at(match, passes["end_frame"].to_numpy(), team, velocities=True)
    at = sides.own_index(passes["receiver"])
    row = np.arange(len(passes))
    place = np.where((at >= 0)[:, None], sides.own[row, np.maximum(at, 0)], np.nan)
    velocity = np.where((at >= 0)[:, None], sides.own_velocity[row, np.maximum(at, 0)], np.nan)
    off = sides.other_outfield - place[:, None]
    forward = passes["end_x"].to_numpy() - passes["x"].to_numpy()
    across = np.abs(passes["end_y"].to_numpy() - passes["y"].to_numpy())
    took = passes["end_s"].to_numpy() - passes["time_s"].to_numpy()
    position = np.array([match.players[p].position for p in passes["receiver"]], dtype=object)
    with np.errstate(invalid="ignore", divide="ignore"):
        behind = ((np.hypot(off[..., 0], off[..., 1]) <= tight_m) & (off[..., 0] > 0)).any(axis=1)
        fits = {
            "goal kick": passes["set_play"].to_numpy() == "goal-kick",
            "pass to keeper": position == "GK",
            "back pass": forward <= -back_m,
            "pass to full-back": np.isin(position, _FULL_BACKS),
            "sideline": np.abs(passes["end_y"].to_numpy()) >= match.pitch.half_width - sideline_m,
            "receiver facing own goal": (forward > 0) & ((velocity[:, 0] <= -towards_own_ms) | behind),
            "slow square pass": (across >= square_m)
            & (across > 2 * np.abs(forward))
            & (np.hypot(forward, across) / took < slow_ms),
        }
    restart = ~np.isin(passes["set_play"].to_numpy(), ["", "goal-kick"])
    cue = np.select([restart, *fits.values()], ["", *fits], default="")
    return pd.DataFrame({
        "period": passes["period"], "time_s": passes["time_s"], "end_s": passes["end_s"], "team": team,
        "player": passes["player"], "target": passes["receiver"], "cue": cue,
        "x": passes["end_x"], "y": passes["end_y"], "estimated": passes["estimated"],
    })  # fmt: skip
