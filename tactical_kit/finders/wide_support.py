"""Support at the wide player: what a full-back or wing-back finds around him when he gets the ball out wide."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import aftermath, next_actions, phase_at
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.support import Trades, WideSupport, trades_of, wide_support
from tactical_kit.measures.switching import nearest_opponent_m
from tactical_kit.moments import Column, Moments

__all__ = ["find_wide_support"]

COLUMNS = {
    "receiver": Column("str", "the full-back or wing-back"),
    "side": Column("str", "side of the pitch, left or right"),
    "options_open": Column("int64", "team-mates within reach to whom the lane is open"),
    "pivot_comes": Column("boolean", "the pivot is near, or comes near before he plays on"),
    "pivot_distance_m": Column("float64", "nearest the pivot is or comes", "m"),
    "half_space": Column("bool", "a man stands in the half-space beside or ahead of him"),
    "down_the_line": Column("bool", "a man stands ahead of him out wide"),
    "centre_back_behind": Column("bool", "a centre-back stands behind him"),
    "triangles": Column("int64", "triangles he forms with two team-mates"),
    "diamond": Column("bool", "one ahead, one behind, one inside: a diamond with him"),
    "pivot": Column("str", "the pivot"),
    "inside": Column("str", "the man in the half-space"),
    "ahead": Column("str", "the man down the line"),
    "behind": Column("str", "the centre-back behind"),
    "open_to": Column("object", "to whom the lane is open, the nearest first"),
    "nearest_m": Column("float64", "nearest opponent to him", "m"),
    "phase": Column("str", "phase of his side"),
    "next_action": Column("str", "what he did with the ball"),
    "kept": Column("boolean", "his side still had the ball a while later, or it had become a shot at goal or a foul"),
    "estimated": Column("bool", "the pass read from the tracking alone, or his trade told from where he stands"),
}


@finder(
    "wide support",
    needs=("tracking or stills",),
    finds="A full-back or wing-back gets the ball out wide: who supports him, and whom he can find.",
    columns=COLUMNS,
)
def find_wide_support(
    match: Match,
    *,
    wide_m: float = 20.16,
    pivot_m: float = 15.0,
    look_s: float = 2.0,
    lane_m: float = 2.0,
    reach_m: float = 30.0,
    near_m: float = 20.0,
    least_deg: float = 25.0,
    level_m: float = 5.0,
    keep_s: float = 5.0,
) -> Moments:
    """Find every reception of a full-back or wing-back out wide and look at the support around him.

    Parameters
    ----------
    match : Match
        With tracking (passes from the events where there are any), or with stills.
    wide_m : float, default 20.16
        He gets it at least this far from the middle of the pitch, m: outside the penalty area's width.
    pivot_m : float, default 15
        The pivot has come if he is at most this far from him, m.
    look_s : float, default 2
        He may come so long after the reception, but before the ball is played on, s.
    lane_m : float, default 2
        A lane is open if no opponent is nearer to the straight line than this, m (see `passing_lanes`).
    reach_m : float, default 30
        An option, the man in the half-space, down the line and behind are at most so far away, m.
    near_m, least_deg : float, default 20 and 25
        Sides of a triangle are at most 20 m long and its angles at least 25 degrees, m and degrees.
    level_m : float, default 5
        The man in the half-space is at most so far behind the ball; the one down the line at least so far ahead of
        it, the centre-back at least so far behind it, m.
    keep_s : float, default 5
        The ball is kept if it is not lost within so long of the reception, s.

    Returns
    -------
    Moments
        Finder "wide support", from the reception until `look_s` later or until he plays it; players: he, then those of
        pivot, half-space, down the line and behind who are there; x, y where he gets it.  Own columns in `COLUMNS`.
        Stills: one instant each in which he is the nearest to the ball and within 3 m; `next_action` "", `kept` NA.

    Raises
    ------
    MissingDataError
        Neither tracking nor stills.

    Notes
    -----
    Full-backs, centre-backs and the pivot are those of the squad list (see `trades_of`); a side without positions in
    it is told by where its players stand, and marked `estimated`.  The pivot is the nearest holding midfielder,
    or the nearest central one with none on the pitch; NA with neither.  Everything but the coming of the pivot is
    read at the reception.  The diamond: a man down the line, the centre-back behind, and inside a
    man in the half-space or the pivot who has come (another than the man down the line, and further inside than
    the receiver).  Receptions from a restart are among them.
    Source: common practice, no source.
    """
    params = {
        "wide_m": wide_m, "pivot_m": pivot_m, "look_s": look_s, "lane_m": lane_m, "reach_m": reach_m, "near_m": near_m,
        "least_deg": least_deg, "level_m": level_m, "keep_s": keep_s,
    }  # fmt: skip
    if match.instants is None:
        match.need_tracking("The support at the wide player", "Stills show it, too.")
    around = {"lane_m": lane_m, "reach_m": reach_m, "near_m": near_m, "least_deg": least_deg, "level_m": level_m}
    parts = []
    for side in match.teams:
        trades = trades_of(match, side.team_id)
        balls = _receptions(match, side.team_id, trades, wide_m, look_s)
        if len(balls):
            parts.append(_looked_at(match, side.team_id, trades, balls, pivot_m, around))
    parts = [p for p in parts if len(p)]
    if not parts:
        return Moments.build("wide support", [], COLUMNS, params, match.match_id)
    rows = pd.concat(parts, ignore_index=True)
    return Moments.build("wide support", rows.assign(kept=_kept(match, rows, keep_s)), COLUMNS, params, match.match_id)


def _receptions(match: Match, team: str, trades: Trades, wide_m: float, look_s: float) -> pd.DataFrame:
    """One row a reception: period, start_s, end_s, receiver, frame, estimated."""
    if match.tracking is None:
        return _in_stills(match, team, trades, wide_m)
    passes = pass_table(match)
    key = passes["period"].to_numpy(float) * 1e5 + passes["time_s"].to_numpy()
    mine = (passes["team"] == team) & passes["complete"] & passes["receiver"].isin(trades.wide)
    mine &= (passes["end_y"].abs() >= wide_m) & (passes["end_frame"] >= 0)
    balls = passes[mine]
    after = balls["period"].to_numpy(float) * 1e5 + balls["end_s"].to_numpy()
    following = np.append(key, np.inf)[np.searchsorted(key, after - 1e-6)] - balls["period"].to_numpy(float) * 1e5
    end = np.minimum(balls["end_s"].to_numpy() + look_s, following)
    end = np.minimum(end, [match.clock[int(p)].duration_s for p in balls["period"]])
    return pd.DataFrame(
        {
            "period": balls["period"],
            "start_s": balls["end_s"],
            "end_s": np.maximum(end, balls["end_s"]),
            "receiver": balls["receiver"],
            "frame": balls["end_frame"],
            "estimated": balls["estimated"] | trades.by_place,
        }
    ).reset_index(drop=True)


def _in_stills(match: Match, team: str, trades: Trades, wide_m: float, holder_m: float = 3.0) -> pd.DataFrame:
    """Return the stills in which a full-back of the side is the nearest of all to the ball, out wide."""
    stills = match.instants
    assert stills is not None
    sides = sides_at(match, np.arange(len(stills)), team)
    away = np.hypot(*np.moveaxis(np.concatenate([sides.own, sides.other], axis=1) - sides.ball[:, None], -1, 0))
    away = np.where(np.isfinite(away), away, np.inf)
    nearest, row = away.argmin(axis=1), np.arange(len(stills))
    ids = np.array([*sides.own_ids, *sides.other_ids], dtype=object)[nearest]
    here = (away[row, nearest] <= holder_m) & np.isin(ids.astype(str), sorted(trades.wide))
    here &= np.abs(sides.ball[:, 1]) >= wide_m
    return pd.DataFrame(
        {
            "period": stills.period[here],
            "start_s": stills.time_s[here],
            "end_s": stills.time_s[here],
            "receiver": ids[here],
            "frame": row[here],
            "estimated": trades.by_place,
        }
    )


def _looked_at(
    match: Match, team: str, trades: Trades, balls: pd.DataFrame, pivot_m: float, around: dict[str, float]
) -> pd.DataFrame:
    """Add the support around the receiver; receptions whose receiver is not in the data are left out."""
    sides = sides_at(match, balls["frame"], team)
    there = np.isfinite(sides.own_place(balls["receiver"])).all(axis=1)
    balls, sides = balls[there].reset_index(drop=True), sides.take(there)
    if not len(balls):
        return pd.DataFrame()
    carrier = sides.own_index(balls["receiver"])
    support = wide_support(sides, carrier, trades, match.pitch, **around)
    pivot, distance = _pivot(match, team, trades, balls, support, around)
    at = sides.own[np.arange(len(sides)), carrier]
    names = np.append(np.array(sides.own_ids, dtype=object), "")
    who = [np.asarray(names[i], dtype=object) for i in (pivot, support.inside, support.ahead, support.behind)]
    comes = pd.array(distance <= pivot_m, dtype="boolean")
    comes[~np.isfinite(distance)] = pd.NA
    # A pivot who is wide himself, down the line say, is nobody's man inside.
    his_y = np.abs(sides.own[np.arange(len(sides)), np.maximum(pivot, 0), 1])
    further_in = (pivot != support.ahead) & (his_y < np.abs(at[:, 1]))
    inside = (support.inside >= 0) | ((np.nan_to_num(distance, nan=np.inf) <= pivot_m) & further_in)
    x, y = match.pitch.onto(at[:, 0], at[:, 1], margin_m=np.inf)
    return pd.DataFrame(
        {
            **{c: balls[c] for c in ("period", "start_s", "end_s", "receiver", "estimated")},
            "team": team,
            "players": [tuple(dict.fromkeys(p for p in ids if p)) for ids in zip(balls["receiver"], *who)],
            "x": x,
            "y": y,
            "side": np.where(at[:, 1] >= 0, "left", "right"),
            "options_open": support.lanes.count,
            "pivot_comes": comes,
            "pivot_distance_m": distance,
            "half_space": support.inside >= 0,
            "down_the_line": support.ahead >= 0,
            "centre_back_behind": support.behind >= 0,
            "triangles": support.triangles,
            "diamond": (support.ahead >= 0) & (support.behind >= 0) & inside,
            **dict(zip(("pivot", "inside", "ahead", "behind"), who)),
            "open_to": _open_to(sides, support),
            "nearest_m": nearest_opponent_m(at, sides.other),
            "phase": _phases(match, balls, team),
            "next_action": next_actions(match, balls["period"], balls["start_s"], balls["receiver"]),
        }
    )


def _pivot(
    match: Match, team: str, trades: Trades, balls: pd.DataFrame, support: WideSupport, around: dict[str, float]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the pivot of the reception and the nearest he comes to the receiver until the ball is played on."""
    pivot, distance = support.pivot, support.pivot_m.copy()
    if match.tracking is None:
        return pivot, distance
    steps = np.arange(1, 11)[None, :] * (balls["end_s"] - balls["start_s"]).to_numpy()[:, None] / 10
    times = balls["start_s"].to_numpy()[:, None] + steps
    frames = match.tracking.indices_at(np.repeat(balls["period"].to_numpy(), 10), times.ravel())
    later = sides_at(match, frames, team)
    receiver = later.own_place(np.repeat(balls["receiver"].to_numpy(object), 10))
    his = later.own[np.arange(len(later)), np.maximum(np.repeat(pivot, 10), 0)]
    away = np.hypot(*(his - receiver).T).reshape(-1, 10)
    away[pivot < 0] = np.nan
    return pivot, np.fmin(distance, np.fmin.reduce(away, axis=1))


def _open_to(sides: Sides, support: WideSupport) -> list[tuple[str, ...]]:
    names = np.array(sides.own_ids, dtype=object)
    order = np.argsort(np.where(support.lanes.open, support.lanes.length_m, np.inf), axis=1, kind="stable")
    return [tuple(names[o[:n]]) for o, n in zip(order, support.lanes.count)]


def _phases(match: Match, balls: pd.DataFrame, team: str) -> NDArray[np.object_]:
    if match.tracking is None:
        return np.full(len(balls), "", dtype=object)
    return phase_at(match, balls["period"], balls["start_s"], team)


def _kept(match: Match, rows: pd.DataFrame, keep_s: float) -> pd.Series:
    """Tell whether the side kept the ball for a while; NA for stills, and where no possession is found."""
    unknown = pd.Series(pd.array([pd.NA] * len(rows), dtype="boolean"))
    if match.tracking is None:
        return unknown
    after = aftermath(match, rows["period"], rows["start_s"], rows["team"], within_s=keep_s)
    lost = after["ended"].isin(["lost", "out", "offside"])
    # A shot that is saved or goes out has not lost the ball on the way.
    kept = ~lost | after["shot_s"].notna()
    return kept.astype("boolean").where(after["kept_s"].notna(), pd.NA)
