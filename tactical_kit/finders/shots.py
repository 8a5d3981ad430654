"""Shots, each with the seconds that led to it."""

from __future__ import annotations

import numpy as np

from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.moments import Column, Moments

__all__ = ["find_shots"]

SHOOT_OUT = 5  # number of the period

COLUMNS = {
    "outcome": Column("str", "goal, saved, blocked, off-target or woodwork"),
    "detail": Column("str", "header, own-goal or nothing"),
    "time_s": Column("float64", "when the shot was taken, from the start of the period", "s"),
    "goal_distance_m": Column("float64", "from the ball to the middle of the goal", "m"),
}


@finder(
    "shot",
    needs=("events",),
    finds="A shot at goal, with the seconds before it in which it was prepared.",
    columns=COLUMNS,
)
def find_shots(match: Match, *, before_s: float = 8.0, after_s: float = 3.0, shoot_out: bool = False) -> Moments:
    """Find every shot, own goals included, with the seconds before and after it.

    Parameters
    ----------
    match : Match
        With events.
    before_s : float, default 8
        The moment begins this long before the shot, not before the period does, s.
    after_s : float, default 3
        The moment ends this long after the shot, not after the period does, s.
    shoot_out : bool, default False
        List the kicks of a shoot-out, too.

    Returns
    -------
    Moments
        Finder "shot"; x, y where it was taken; outcome (goal, saved, blocked, off-target, woodwork), detail
        ("" | header | own-goal), time_s of the shot, goal_distance_m to the middle of the attacked goal, m.
        An own goal is told for the side that it counts for, though a player of the other scored it.

    Raises
    ------
    MissingDataError
        No events.

    Notes
    -----
    Source: common practice, no source.
    """
    match.need_events("The list of shots")
    events = match.attacking_events
    shots = events[(events["kind"] == "shot") & (events["team"] != "")].copy()
    if not shoot_out:
        shots = shots[shots["period"] != SHOOT_OUT]
    own = shots["detail"] == "own-goal"
    shots.loc[own, "team"] = [match.opponent(team).team_id for team in shots.loc[own, "team"]]
    shots.loc[own, ["x", "y"]] = -shots.loc[own, ["x", "y"]]
    goal_x, goal_y = match.pitch.goal
    rows = [
        {
            "period": int(s.period),
            "start_s": max(0.0, s.time_s - before_s),
            "end_s": max(s.time_s, min(match.clock[int(s.period)].duration_s, s.time_s + after_s)),
            "team": s.team,
            "players": (s.player,) if s.player else (),
            "x": s.x,
            "y": s.y,
            "outcome": s.outcome,
            "detail": s.detail,
            "time_s": s.time_s,
            "goal_distance_m": float(np.hypot(s.x - goal_x, s.y - goal_y)),
        }
        for s in shots.itertuples()
    ]
    return Moments.build(
        "shot", rows, COLUMNS, {"before_s": before_s, "after_s": after_s, "shoot_out": shoot_out}, match.match_id
    )
