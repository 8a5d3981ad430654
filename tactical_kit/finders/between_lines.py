"""Between the lines: receptions, and players placed, behind the opponents' midfield line and before their back line."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.finders.context import index_of, next_actions, phase_at
from tactical_kit.finders.registry import finder
from tactical_kit.finders.units import opponents_lines
from tactical_kit.match import Match
from tactical_kit.measures.between import facing_words, in_the_gap, pinned_defender
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.switching import nearest_opponent_m
from tactical_kit.measures.unit_lines import BACK, MIDFIELD, UnitLines
from tactical_kit.moments import Column, Moments, runs_of
from tactical_kit.pitch import CORRIDORS

__all__ = ["find_between_the_lines"]

COLUMNS = {
    "receiver": Column("str", "who got the ball, or is placed, between the lines"),
    "passer": Column("str", "who played it to him; nobody for a player placed"),
    "delivery": Column("str", "ground, through or air: how the ball came"),
    "facing": Column("str", "where he looks: goal, side or own goal (estimated from his run and the ball)"),
    "gap_m": Column("float64", "midfield line to back line", "m"),
    "depth_m": Column("float64", "how far behind the midfield line he is", "m"),
    "corridor": Column("str", "corridor of the pitch: centre, left half-space..."),
    "nearest_m": Column("float64", "nearest opponent to him", "m"),
    "pins": Column("str", "the wide defender he holds inside while a team-mate is free outside; nobody if none"),
    "placed": Column("int64", "players of his side placed between the lines, himself included"),
    "phase": Column("str", "phase of his side"),
    "next_action": Column("str", "what he did with the ball"),
    "turned": Column("boolean", "had not looked at the goal, and then played or carried it forward"),
    "estimated": Column("bool", "the pass read from the tracking alone"),
}
_FORWARD = ("forward pass", "forward carry", "take-on", "shot")


@finder(
    "between the lines",
    needs=("tracking or stills",),
    finds="A ball received, or a player placed, behind the opponents' midfield line and in front of their back line.",
    columns=COLUMNS,
)
def find_between_the_lines(
    match: Match,
    *,
    receptions: bool = True,
    across_m: float = 20.16,
    inside_m: float = 0.0,
    least_gap_m: float = 4.0,
    high_m: float = 1.0,
    placed_s: float = 1.0,
    pin_m: float = 10.0,
    outside_m: float = 8.0,
    behind_m: float = 15.0,
    free_m: float = 5.0,
    still_ms: float = 1.0,
    goal_deg: float = 60.0,
    own_goal_deg: float = 120.0,
) -> Moments:
    """Find every pass received between the lines that was played from in front of the midfield line.

    Parameters
    ----------
    match : Match
        With tracking (passes from the events where there are any), or with stills.
    receptions : bool, default True
        False finds players placed between the lines instead, with or without getting the ball: each spell of
        a player there while his side has the ball in front of the midfield line.
    across_m : float, default 20.16
        At most this far from the middle of the pitch, m: centre and half-spaces, as far as the penalty area is wide.
    inside_m : float, default 0
        At least this far behind the midfield line and in front of the back line, m.
    least_gap_m : float, default 4
        The two lines are at least this far apart, m.
    high_m : float, default 1
        A ball that is anywhere on its way higher than this comes through the air, m.
    placed_s : float, default 1
        Only with `receptions=False`: a spell lasts at least so long, s; breaks of up to half a second do not end it.
    pin_m, outside_m : float, default 10 and 8
        The outermost man of the back line is pinned if he is at most 10 m from the receiver, and another of his side
        is at least 8 m further outside, m,
    behind_m, free_m : float, default 15 and 5
        at most 15 m behind the receiver, with no opponent nearer than 5 m, m.
    still_ms, goal_deg, own_goal_deg : float, default 1, 60 and 120
        From 1 m/s on a receiver looks where he runs, else at the ball: up to 60 degrees off the way to the goal
        line it is "goal", from 120 on "own goal", m/s and degrees (see `facing_words`).

    Returns
    -------
    Moments
        Finder "between the lines".  A reception: from the pass being played until it arrives; players (receiver,
        passer); x, y where it is received.  A placing: the spell; players (he,); x, y in the middle of it.  Stills: one
        instant each; the man on the ball is the nearest one within 3 m.  Own columns in `COLUMNS`.

    Raises
    ------
    MissingDataError
        Neither tracking nor stills.

    Notes
    -----
    The lines are those of the instant the pass is played; who belongs to which line is settled by where he stands in
    the mid-block and low block of the minutes around (`finders.units`), and for stills by where he stands.
    Receptions after restarts are left out, and with fewer than seven opponents in the data nobody is between lines.
    `facing` is an estimate, as tracking does not show how a body is turned.  The lines are means: a midfielder who
    has dropped deep can still be goal-side of the receiver.  A limit of 22 m across finds more at the edge of
    the half-space.
    Source: common practice, no source; corridors by the markings (`Pitch.corridor_edges`).
    """
    params = {
        "receptions": receptions, "across_m": across_m, "inside_m": inside_m, "least_gap_m": least_gap_m,
        "high_m": high_m, "placed_s": placed_s, "pin_m": pin_m, "outside_m": outside_m, "behind_m": behind_m,
        "free_m": free_m, "still_ms": still_ms, "goal_deg": goal_deg, "own_goal_deg": own_goal_deg,
    }  # fmt: skip
    if match.instants is None:
        match.need_tracking("Who is between the lines", "Stills show it, too.")
    room = {"across_m": across_m, "inside_m": inside_m, "least_gap_m": least_gap_m}
    pins = {"pin_m": pin_m, "outside_m": outside_m, "behind_m": behind_m, "free_m": free_m}
    looks = {"still_ms": still_ms, "goal_deg": goal_deg, "own_goal_deg": own_goal_deg}
    parts = []
    for side in match.teams:
        if match.tracking is None:
            parts.append(_in_stills(match, side.team_id, receptions, room, pins))
        elif receptions:
            parts.append(_receptions(match, side.team_id, high_m, room, pins, looks))
        else:
            parts.append(_placings(match, side.team_id, placed_s, room, pins))
    found = [p for p in parts if len(p)]
    rows = pd.concat(found, ignore_index=True) if found else []
    return Moments.build("between the lines", rows, COLUMNS, params, match.match_id)


def _receptions(
    match: Match, team: str, high_m: float, room: dict[str, float], pins: dict[str, float], looks: dict[str, float]
) -> pd.DataFrame:
    passes = pass_table(match)
    mine = (passes["team"] == team) & passes["complete"] & (passes["receiver"] != "") & (passes["set_play"] == "")
    passes = passes[mine & (passes["frame"] >= 0) & (passes["end_frame"] >= 0)]
    if not len(passes):
        return pd.DataFrame()
    struck = sides_at(match, passes["frame"], team)
    lines = opponents_lines(match, struck, passes["period"], passes["time_s"], team)
    end = passes[["end_x", "end_y"]].to_numpy()
    there = in_the_gap(end[:, None], lines, **room)[:, 0] & (passes["x"].to_numpy() < lines.x[:, MIDFIELD])
    passes, lines, end = passes[there].reset_index(drop=True), lines.take(there), end[there]
    if not len(passes):
        return pd.DataFrame()
    got = sides_at(match, passes["end_frame"], team, velocities=True)
    receiver = passes["receiver"].to_numpy(object)
    # Whoever is placed is counted at the instant the pass is played, receiver included wherever he comes from.
    placed = in_the_gap(struck.own_outfield[there], lines, **room)
    own = np.array(struck.own_ids, dtype=object)[~struck.own_keeper]
    placed |= receiver[:, None] == own
    came = passes[["x", "y"]].to_numpy() - end
    velocity = got.own_velocity[np.arange(len(got)), np.maximum(got.own_index(receiver), 0)]
    velocity = np.where((got.own_index(receiver) >= 0)[:, None], velocity, np.nan)
    facing = facing_words(velocity, came, **looks)
    then = next_actions(match, passes["period"], passes["end_s"], receiver)
    return pd.DataFrame(
        {
            **{c: passes[c] for c in ("period", "team", "estimated")},
            "start_s": passes["time_s"],
            "end_s": passes["end_s"],
            "players": list(zip(receiver, passes["player"])),
            "receiver": receiver,
            "passer": passes["player"],
            "delivery": _deliveries(match, passes, high_m),
            "facing": facing,
            **_room_of(match, end, lines),
            **_others(got, receiver, end, lines, pins),
            "placed": placed.sum(axis=1),
            "phase": phase_at(match, passes["period"], passes["time_s"], team),
            "next_action": then,
            "turned": _turned(facing, then),
        }
    )


def _placings(match: Match, team: str, placed_s: float, room: dict[str, float], pins: dict[str, float]) -> pd.DataFrame:
    """Return the spells of each player between the lines while his side has the ball."""
    frames = index_of(match).frames
    has_ball = np.flatnonzero(frames.team == match.team_index(team))
    if not len(has_ball):
        return pd.DataFrame()
    sides = sides_at(match, frames.frame[has_ball], team)
    lines = opponents_lines(match, sides, frames.period[has_ball], frames.time_s[has_ball], team)
    own = np.flatnonzero(~sides.own_keeper)
    placed = in_the_gap(sides.own[:, own], lines, **room) & _in_front(sides, lines)[:, None]
    period, time_s = frames.period[has_ball], frames.time_s[has_ball]
    breaks = np.flatnonzero((np.diff(time_s) > 1.5 * frames.frame_s) | (np.diff(period) != 0)) + 1
    edges = [0, *breaks.tolist(), len(has_ball)]
    stretches = tuple(slice(a, b) for a, b in itertools.pairwise(edges))
    rows = []
    for player, column in zip(own, placed.T):
        joined = _without_short_breaks(column, stretches, max(round(0.5 / frames.frame_s), 0))
        for a, b in runs_of(joined, stretches, max(round(placed_s / frames.frame_s), 1)):
            inside = a + np.flatnonzero(column[a:b])
            rows.append((player, a, b, inside[len(inside) // 2]))
    if not rows:
        return pd.DataFrame()
    who, first, last, middle = np.array(rows, np.int64).T
    at = sides.own[middle, who]
    names = np.array(sides.own_ids, dtype=object)[who]
    found = pd.DataFrame(
        {
            "period": period[first],
            "start_s": time_s[first],
            "end_s": np.minimum(time_s[last - 1] + frames.frame_s, _durations(match, period[first])),
            "team": team,
            "players": [(n,) for n in names],
            "receiver": names,
            **_room_of(match, at, lines.take(middle)),
            **_others(sides.take(middle), names, at, lines.take(middle), pins),
            "placed": placed[middle].sum(axis=1),
            "phase": phase_at(match, period[middle], time_s[middle], team),
        }
    )
    return found.assign(**_no_pass(len(found)), estimated=False)


def _in_stills(
    match: Match, team: str, receptions: bool, room: dict[str, float], pins: dict[str, float]
) -> pd.DataFrame:
    """Return who is placed between the lines in each still in which the side is on the ball."""
    stills = match.instants
    assert stills is not None
    frame = np.arange(len(stills))
    sides = sides_at(match, frame, team)
    on_ball, nearest = _on_the_ball(sides)
    lines = opponents_lines(match, sides, stills.period, stills.time_s, team)
    placed = in_the_gap(sides.own, lines, **room)
    placed[:, sides.own_keeper] = False
    wanted = placed & on_ball[:, None]
    if receptions:
        wanted &= nearest[:, None] == np.arange(placed.shape[1])
    else:
        wanted &= _in_front(sides, lines)[:, None]
    row, who = np.nonzero(wanted)
    if not len(row):
        return pd.DataFrame()
    at = sides.own[row, who]
    names = np.array(sides.own_ids, dtype=object)[who]
    found = pd.DataFrame(
        {
            "period": stills.period[row],
            "start_s": stills.time_s[row],
            "end_s": stills.time_s[row],
            "team": team,
            "players": [(n,) for n in names],
            "receiver": names,
            **_room_of(match, at, lines.take(row)),
            **_others(sides.take(row), names, at, lines.take(row), pins),
            "placed": placed[row].sum(axis=1),
            "phase": "",
        }
    )
    return found.assign(**_no_pass(len(found)), estimated=False)


def _on_the_ball(sides: Sides, reach_m: float = 3.0) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Tell whether the own side is on the ball, and which of its players is nearest to it."""
    mine, theirs = (
        np.nan_to_num(np.hypot(*np.moveaxis(p - sides.ball[:, None], -1, 0)), nan=np.inf)
        for p in (sides.own, sides.other)
    )
    nearest = mine.min(axis=1)
    return (nearest <= reach_m) & (nearest < theirs.min(axis=1, initial=np.inf)), mine.argmin(axis=1)


def _in_front(sides: Sides, lines: UnitLines) -> NDArray[np.bool_]:
    """Tell when the ball is in front of the opponents' midfield line."""
    with np.errstate(invalid="ignore"):
        return np.asarray(sides.ball[:, 0] < lines.x[:, MIDFIELD])


def _room_of(match: Match, at: NDArray[np.float64], lines: UnitLines) -> dict[str, ArrayLike]:
    x, y = match.pitch.onto(at[:, 0], at[:, 1], margin_m=np.inf)
    return {
        "x": x,
        "y": y,
        "gap_m": lines.x[:, BACK] - lines.x[:, MIDFIELD],
        "depth_m": at[:, 0] - lines.x[:, MIDFIELD],
        "corridor": np.array([*CORRIDORS, ""], dtype=object)[match.pitch.corridor_of(y)],
    }


def _others(
    sides: Sides, who: NDArray[np.object_], at: NDArray[np.float64], lines: UnitLines, pins: dict[str, float]
) -> dict[str, ArrayLike]:
    """Say who stands nearest to him and whom he pins, by the places in `sides` and the lines they belong to."""
    himself = np.array(sides.own_ids, dtype=object) == who[:, None]
    mates = np.where(himself[..., None], np.nan, sides.own)[:, ~sides.own_keeper]
    pinned = pinned_defender(at, mates, sides.other_outfield, lines.line, **pins)
    names = np.append(np.array(sides.other_ids, dtype=object)[~sides.other_keeper], "")
    return {"nearest_m": nearest_opponent_m(at, sides.other), "pins": names[pinned]}


def _deliveries(match: Match, passes: pd.DataFrame, high_m: float) -> NDArray[np.object_]:
    tracking = match.tracking
    assert tracking is not None
    words = np.full(len(passes), "ground", dtype=object)
    words[(passes["detail"] == "through").to_numpy()] = "through"
    for i, (a, b) in enumerate(zip(passes["frame"], passes["end_frame"])):
        height = tracking.ball[a : b + 1, 2]
        if (height > high_m).any():
            words[i] = "air"
    words[passes["detail"].isin(["header", "long", "cross"]).to_numpy()] = "air"
    return words


def _turned(facing: NDArray[np.object_], then: NDArray[np.object_]) -> pd.array:
    turned = pd.array(np.isin(then.astype(str), _FORWARD) & (facing != "goal"), dtype="boolean")
    turned[(then == "") | (facing == "")] = pd.NA
    return turned


def _no_pass(n: int) -> dict[str, object]:
    return {
        "passer": "", "delivery": "", "facing": "", "next_action": "", "turned": pd.array([pd.NA] * n, dtype="boolean"),
    }  # fmt: skip


def _without_short_breaks(mask: NDArray[np.bool_], stretches: tuple[slice, ...], most: int) -> NDArray[np.bool_]:
    """Fill breaks of at most `most` frames between two spells of the same stretch."""
    joined = mask.copy()
    inner = {s.start for s in stretches}, {s.stop for s in stretches}
    for a, b in runs_of(~mask, stretches):
        if b - a <= most and a not in inner[0] and b not in inner[1]:
            joined[a:b] = True
    return joined


def _durations(match: Match, period: NDArray[np.int8]) -> NDArray[np.float64]:
    return np.array([match.clock[int(p)].duration_s for p in period])
