"""Long balls and second balls: cue, target, first contact, who wins the second ball, numbers near the drop."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.measures.numbers import players_near
from tactical_kit.measures.oval import pressure_on
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.second_balls import contacts_after
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.pitch import CORRIDORS

__all__ = ["find_long_balls"]

COLUMNS = {
    "cue": Column("str", "from what it was played: a restart, under pressure, or the corridor the ball lay in"),
    "pressure": Column("float64", "pressure on the passer when he struck it", "%"),
    "target": Column("str", "whom it was for: the receiver, or the own player nearest to the drop"),
    "distance_m": Column("float64", "from the pass to the drop", "m"),
    "gain_m": Column("float64", "how far towards the goal line", "m"),
    "drop_x": Column("float64", "where it came down or was met, attacking frame", "m"),
    "drop_y": Column("float64", "the same, across", "m"),
    "complete": Column("bool", "a team-mate had the first contact"),
    "won_first": Column("boolean", "the side that played it had the first contact; unknown if nobody had"),
    "won_second": Column("boolean", "the side that played it had the ball under control then; unknown if nobody had"),
    "second_by": Column("str", "who had it under control"),
    "second_after_s": Column("float64", "from the first contact until then", "s"),
    "n_for": Column("float64", "own outfield players near the drop at the first contact", short="near the drop"),
    "n_against": Column("float64", "outfield opponents near the drop", short="opponents near"),
    "goal_side": Column("float64", "own players near the drop who stood between it and their own goal"),
    "goal_side_against": Column("float64", "opponents near the drop who stood between it and theirs"),
    "contested": Column("boolean", "men of both sides were at the ball at the first contact"),
    "estimated": Column("bool", "read from the tracking alone"),
}
_CUES = {"goal-kick": "goal kick", "free-kick": "free kick", "throw-in": "throw-in", "kick-off": "kick-off",
         "drop-ball": "drop ball", "corner": "corner"}  # fmt: skip


@finder(
    "long ball",
    needs=("events or tracking",),
    finds="A long ball forward: cue, target, first contact, who wins the second ball, numbers near the drop.",
    columns=COLUMNS,
)
def find_long_balls(
    match: Match,
    *,
    least_m: float = 25.0,
    least_gain_m: float = 15.0,
    least_height_m: float = 3.0,
    cut_off_share: float = 0.4,
    pressure_percent: float = 30.0,
    near_m: float = 10.0,
    contest_m: float = 2.5,
    within_s: float = 10.0,
    control_s: float = 0.5,
) -> Moments:
    """Find every long ball forward through the air, with its first and its second ball.

    Parameters
    ----------
    match : Match
        With events or tracking; numbers and pressure need tracking.
    least_m, least_gain_m : float, default 25 and 15
        It goes at least 25 m, and at least 15 m towards the goal line; crosses and cut-backs do not count, m.
    least_height_m : float, default 3
        It rises at least this high, m.  Where the height of the ball is not in the data, what the events call "long"
        counts, or, if they call nothing so, every pass but a through ball.
    cut_off_share : float, default 0.4
        A pass that the events call "long" and that is met before it has gone `least_m` counts if at least this share
        of its way was forward (15 m of 40 is about that).
    pressure_percent : float, default 30
        Cue "under pressure": pressure on the passer of at least this, % (`measures.oval`).
    near_m : float, default 10
        Near the drop: at most this far from it, m.
    contest_m : float, default 2.5
        Contested: a player of each side at most this far from the ball at the first contact, m.
    within_s : float, default 10
        The second ball is won at most this long after the first contact, s.
    control_s : float, default 0.5
        Tracking alone: the ball is under control when the same player has been on it for at least this long, s.

    Returns
    -------
    Moments
        Finder "long ball", from the strike until somebody has the second ball (or the first contact, if nobody has).
        `team` played it; players (passer, target); x, y where it was struck.  Own columns in `COLUMNS`: cue is
        the restart ("goal kick", "free kick"...), else "under pressure", else "wide", "half-space" or "centre".
        Without tracking the numbers are NaN and the pressure and contested unknown.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    A long ball that a team-mate controls with his first touch has the same side first and second.  A long ball that
    is charged down at the passer's feet is seen only where the events call it long.
    Source: lengths from 25 to 32 m are in use (from memory); second ball see `contacts_after`; the rest is common
    practice, no source.
    """
    params = {
        "least_m": least_m, "least_gain_m": least_gain_m, "least_height_m": least_height_m,
        "cut_off_share": cut_off_share, "pressure_percent": pressure_percent, "near_m": near_m,
        "contest_m": contest_m, "within_s": within_s, "control_s": control_s,
    }  # fmt: skip
    passes = pass_table(match)
    found = passes[_is_long(match, passes, least_m, least_gain_m, least_height_m, cut_off_share)]
    found = found.reset_index(drop=True)
    found["distance_m"] = np.hypot(found["end_x"] - found["x"], found["end_y"] - found["y"])
    found["gain_m"] = found["end_x"] - found["x"]
    _add_numbers(match, found, near_m, contest_m)
    found["cue"] = _cues(match, found, pressure_percent)
    _add_contacts(match, found, within_s, control_s)
    found["players"] = [(p, t) if t else (p,) for p, t in zip(found["player"], found["target"])]
    for x, y, to_x, to_y in (("x", "y", "x", "y"), ("end_x", "end_y", "drop_x", "drop_y")):
        found[to_x], found[to_y] = match.pitch.onto(found[x], found[y], margin_m=np.inf)
    found = found.rename(columns={"time_s": "start_s"})
    core = ["period", "start_s", "end_s", "team", "players", "x", "y"]
    return Moments.build("long ball", found[[*core, *COLUMNS]], COLUMNS, params, match.match_id)


def _is_long(
    match: Match, passes: pd.DataFrame, least_m: float, least_gain_m: float, least_height_m: float, share: float
) -> NDArray[np.bool_]:
    gain = (passes["end_x"] - passes["x"]).to_numpy()
    length = np.hypot(gain, (passes["end_y"] - passes["y"]).to_numpy())
    detail = passes["detail"].to_numpy(object)
    called_long = detail == "long"
    height = _peak(match, passes)
    by_word = called_long if called_long.any() else detail != "through"
    in_the_air = np.where(np.isfinite(height), height >= least_height_m, by_word)
    far = (length >= least_m - 1e-9) & (gain >= least_gain_m - 1e-9) & in_the_air
    cut_off = called_long & (length < least_m) & (gain >= share * length)
    return np.asarray((far | cut_off) & ~np.isin(detail, ["cross", "cut-back"]))


def _peak(match: Match, passes: pd.DataFrame) -> NDArray[np.float64]:
    """Greatest height of the ball on its way; NaN where the data have no heights."""
    tracking = match.tracking
    peak = np.full(len(passes), np.nan)
    if tracking is None or not (tracking.ball[:, 2] > 0.5).any():  # a ball that never rises has no heights
        return peak
    first, last = passes["frame"].to_numpy(), passes["end_frame"].to_numpy()
    for i in np.flatnonzero((first >= 0) & (last >= first)):
        z = tracking.ball[first[i] : last[i] + 1, 2]
        if np.isfinite(z).any():
            peak[i] = np.nanmax(z)
    return peak


def _add_numbers(match: Match, found: pd.DataFrame, near_m: float, contest_m: float) -> None:
    """Add pressure, target, the numbers near the drop and whether it was contested."""
    names = ("pressure", "n_for", "n_against", "goal_side", "goal_side_against")
    values = {name: np.full(len(found), np.nan) for name in names}
    target = found["receiver"].to_numpy(object).copy()
    contested = np.full(len(found), pd.NA, dtype=object)
    if match.tracking is not None:
        goal = np.array(match.pitch.goal)
        for team in match.teams:
            rows = np.flatnonzero((found["team"] == team.team_id).to_numpy())
            if not len(rows):
                continue
            mine = found.iloc[rows]
            struck, met = (sides_at(match, mine[f], team.team_id) for f in ("frame", "end_frame"))
            passer = np.where(
                np.isfinite(struck.own_place(mine["player"])), struck.own_place(mine["player"]), mine[["x", "y"]]
            )
            values["pressure"][rows] = pressure_on(passer, np.broadcast_to(goal, passer.shape), struck.other)
            drop = mine[["end_x", "end_y"]].to_numpy(float)
            known = (mine["end_frame"].to_numpy() >= 0) & np.isfinite(drop).all(axis=1)
            own, other = met.own_outfield, met.other_outfield
            near, near_other = players_near(own, drop, near_m), players_near(other, drop, near_m)
            behind = own[..., 0] < drop[:, None, 0]
            goal_side = other[..., 0] > drop[:, None, 0]
            for name, counted in (
                ("n_for", near), ("n_against", near_other),
                ("goal_side", near & behind), ("goal_side_against", near_other & goal_side),
            ):  # fmt: skip
                values[name][rows] = np.where(known, counted.sum(axis=1), np.nan)
            both = players_near(own, drop, contest_m).any(axis=1) & players_near(other, drop, contest_m).any(axis=1)
            contested[rows] = np.where(known, both.astype(object), pd.NA)
            ids = np.array(met.own_ids, dtype=object)[~met.own_keeper]
            target[rows] = _targets(mine, own, drop, near, ids)
    for name in names:
        found[name] = values[name]
    found["target"], found["contested"] = target, pd.array(list(contested), "boolean")


def _targets(
    mine: pd.DataFrame,
    own: NDArray[np.float64],
    drop: NDArray[np.float64],
    near: NDArray[np.bool_],
    ids: NDArray[np.object_],
) -> NDArray[np.object_]:
    """Whom each ball was for: who got it, else the own outfield player nearest to the drop, not the passer."""
    away = np.hypot(*np.moveaxis(own - drop[:, None], -1, 0))
    fits = near & (ids[None, :] != mine["player"].to_numpy(object)[:, None])
    nearest = np.where(fits, away, np.inf)
    best = np.where(fits.any(axis=1), ids[nearest.argmin(axis=1)], "")
    receiver = mine["receiver"].to_numpy(object)
    return np.where(receiver != "", receiver, best)


def _cues(match: Match, found: pd.DataFrame, pressure_percent: float) -> NDArray[np.object_]:
    """A restart, else pressure, else the corridor: "wide", "half-space" or "centre"."""
    corridor = np.append(np.array(CORRIDORS, dtype=object), "")[match.pitch.corridor_of(
        match.pitch.onto(found["x"], found["y"], margin_m=np.inf)[1]
    )]  # fmt: skip
    words = np.array([c.split()[-1].replace("wing", "wide") if c else "" for c in corridor], dtype=object)
    words = np.where(found["pressure"].to_numpy() >= pressure_percent, "under pressure", words)
    restart = np.array([_CUES.get(s, "") for s in found["set_play"]], dtype=object)
    return np.where(restart != "", restart, words)


def _add_contacts(match: Match, found: pd.DataFrame, within_s: float, control_s: float) -> None:
    """Add who had the first contact and who won the second ball; the moment ends with it."""
    contacts = contacts_after(match, found, within_s=within_s, control_s=control_s)
    team = found["team"].to_numpy(object)
    for column, by in (("won_first", "first_team"), ("won_second", "second_team")):
        names = contacts[by].to_numpy(object)
        found[column] = pd.array([pd.NA if n == "" else n == t for n, t in zip(names, team)], "boolean")
    found["second_by"] = contacts["second_player"]
    ends = found["end_s"].fillna(found["time_s"])
    found["second_after_s"] = (contacts["second_s"] - ends).clip(lower=0)
    found["end_s"] = np.fmax(ends, contacts["second_s"])
