"""Presses: who jumps at the ball on what cue, how fast, which lane he shuts, and how it ended."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import index_of
from tactical_kit.finders.press_outcome import with_outcomes
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.match.runs import runs_of
from tactical_kit.measures.closing import (
    best_mean,
    bridged,
    distance_to,
    fastest_there,
    set_off_at,
    side_velocity,
    speed_towards,
)
from tactical_kit.measures.cover_shadow import in_cover_shadow, longest_in_shadow
from tactical_kit.measures.cues import cue_table
from tactical_kit.measures.instants import FAR
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.moments import Column, Moments

__all__ = ["find_presses"]

COLUMNS = {
    "cue": Column("str", "what it was sprung by: back pass, pass to keeper, poor touch ..."),
    "presser": Column("str", "who came nearest to the ball of those who jumped"),
    "target": Column("str", "who got the ball at the cue"),
    "target_position": Column("str", "his position by the squad list, as LCB; nothing if it is not given"),
    "jumpers": Column("int64", "how many ran at the ball, the presser with them"),
    "closing_ms": Column("float64", "how fast the fastest of them ran at it, over one second", "m/s"),
    "run_m": Column("float64", "how far the presser was from the ball when he set off", "m"),
    "nearest_m": Column("float64", "how near to the ball he came", "m"),
    "lane_shut": Column("str", "whose lane his cover shadow shut for at least half of his run"),
    "regain_s": Column("float64", "from the cue until the ball was won; nothing if it was not", "s"),
    "outcome": Column("str", "won, out, foul, offside, beaten (they got out) or kept"),
    "phase": Column("str", "what the pressing side was doing as they set off: high press, mid-block, low block"),
    "estimated": Column("bool", "the pass was read from the tracking alone"),
}
_ORGANISED = ("high press", "mid-block", "low block")
_BEFORE_THE_LAST_THIRD = ("build-up", "progression")


@finder(
    "press",
    needs=("tracking",),
    finds="A player jumps at the ball after a cue, alone or with others, in the opponents' build-up or progression.",
    columns=COLUMNS,
)
def find_presses(
    match: Match,
    *,
    run_ms: float = 3.0,
    own_ms: float = 1.0,
    least_run_m: float = 5.0,
    least_x_m: float = -15.0,
    reach_m: float = 30.0,
    least_jumpers: int = 1,
    least_run_s: float = 0.6,
    pause_s: float = 2.0,
    fast_ms: float = 4.0,
    engage_m: float = 5.0,
    arrive_s: float = 1.0,
    cue_before_s: float = 2.0,
    uncued: bool = False,
    back_m: float = 4.0,
    sideline_m: float = 8.0,
    square_m: float = 12.0,
    slow_ms: float = 9.0,
    towards_own_ms: float = 0.5,
    tight_m: float = 3.0,
    shadow_m: float = 2.0,
    regain_after_s: float = 5.0,
    gain_m: float = 10.0,
) -> Moments:
    """Find every press: a cue, a man (or several) who jumps at the ball and gets there.

    Parameters
    ----------
    match : Match
        With tracking; passes come from the events where there are any, poor touches and goal kicks only from them.
    run_ms : float, default 3
        A player runs at the ball at this speed or more, m/s.
    own_ms : float, default 1
        He is at least so much faster than his side as a whole moves that way, m/s: who shifts across with the block
        does not jump.
    reach_m : float, default 30
        He sets off at most so far from the ball, m.
    least_jumpers : int, default 1
        At least so many run at once; 2 leaves the presses in which others jump with the first.
    least_run_s, pause_s : float, default 0.6 and 2
        Each of them runs for at least 0.6 s; pauses of at most 2 s make no new press, s.
    fast_ms : float, default 4
        The presser's best second is at least so fast, m/s: 14.4 km/h, from which on running is counted.
    least_run_m : float, default 5
        He sets off at least so far from the ball, m.
    engage_m, arrive_s : float, default 5 and 1
        He comes to at most 5 m from it while an opponent has it, at most 1 s after they have stopped to run, m and s.
    least_x_m : float, default -15
        The cue is at least so far up the pitch in the attacking frame of the pressing side, m: a block that steps out
        on the edge of its own third defends its goal.
    cue_before_s : float, default 2
        The cue is struck or touched at most so long before the first of them runs, s.
    uncued : bool, default False
        Take jumps without a cue, too; their `cue` is "".
    back_m : float, default 4
        The cue "back pass" goes at least so far towards the own goal line, m.
    sideline_m : float, default 8
        The cue "sideline" is a ball received at most so far from a touchline, m.
    square_m, slow_ms : float, default 12 and 9
        The cue "slow square pass" goes at least 12 m, on average slower than 9 m/s.
    towards_own_ms, tight_m : float, default 0.5 and 3
        The cue "receiver facing own goal": he comes towards it with at least 0.5 m/s when the ball arrives, or an
        opponent is at most 3 m from him on the side of the goal that he attacks.
    shadow_m : float, default 2
        The presser shuts a lane that passes him at less than this, m (see `in_cover_shadow`).
    regain_after_s, gain_m : float, default 5 and 10
        What happens at most 5 s after they have stopped is the outcome, s; the opponents have got out ("beaten") if the
        ball comes at least 10 m nearer to the goal than at the cue, m.

    Returns
    -------
    Moments
        Finder "press", from the cue (when the ball is struck) until the last of them stops to run at the ball or the
        ball is won.  `team` presses; players: the presser, then the others who jumped, the nearest to the ball first;
        x, y the ball at the cue, where the target gets it.  Own columns in `COLUMNS`; the cues are those of
        `tactical_kit.measures.cues.CUES`.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    Looked at is a side in its block (high press, mid-block, low block) while the opponents build up or progress; a hunt
    right after a loss is a counter-press, another finder's.  The presser is the fastest of those who came near.  Of
    several cues the last before the run counts.  Where somebody was already running at the ball without one, the first
    cue that is then given springs the press: only what is run from there on counts.  The lane that his cover shadow
    shuts is that of the team-mate who is in it for at least half of his way to the ball; "" if nobody is.
    Below 10 Hz speeds are smoothed over longer, and short jumps are missed.
    What is measured are legs, not orders: a press that was called but beaten by the first pass shows no run and is
    not found; a wide trap is a press as well.
    Source: common practice, no source; speeds and distances tried on simulated matches (seeds 1100-1119), where
    `own_ms` told a jump from a block that shifts, and nearer limits for `engage_m` lost more than they cleaned.
    """
    params = {
        "run_ms": run_ms, "own_ms": own_ms, "reach_m": reach_m, "least_jumpers": least_jumpers,
        "least_run_s": least_run_s, "pause_s": pause_s, "fast_ms": fast_ms, "least_run_m": least_run_m,
        "engage_m": engage_m, "arrive_s": arrive_s, "least_x_m": least_x_m, "cue_before_s": cue_before_s,
        "uncued": uncued, "back_m": back_m, "sideline_m": sideline_m, "square_m": square_m, "slow_ms": slow_ms,
        "towards_own_ms": towards_own_ms, "tight_m": tight_m, "shadow_m": shadow_m,
        "regain_after_s": regain_after_s, "gain_m": gain_m,
    }  # fmt: skip
    match.need_tracking("A press")
    cues = cue_table(
        match, back_m=back_m, sideline_m=sideline_m, square_m=square_m, slow_ms=slow_ms,
        towards_own_ms=towards_own_ms, tight_m=tight_m,
    )  # fmt: skip
    cues = cues[cues["cue"] != ""]
    rows: list[dict[str, Any]] = []
    for side, team in enumerate(match.teams):
        block = _block_against_the_ball(match, side)
        jumping = (block.speed >= run_ms) & (block.faster >= own_ms) & (block.distance <= reach_m)
        spells = _spells(block, jumping.sum(axis=1) >= least_jumpers, least_run_s, pause_s)
        theirs = cues[cues["team"] == match.teams[1 - side].team_id].reset_index(drop=True)
        for spell, cue in _sprung(block, spells, theirs, cue_before_s):
            if cue < 0 and not uncued:
                continue
            row = theirs.iloc[cue] if cue >= 0 else None
            press = _press(
                block, slice(*spell), jumping, row, reach_m, engage_m, arrive_s, least_run_s, pause_s, shadow_m
            )
            if press is None:
                continue
            fast, near = press["closing_ms"] >= fast_ms, press["nearest_m"] <= engage_m
            if fast and near and press["run_m"] >= least_run_m and press["x"] >= least_x_m:
                rows.append({"team": team.team_id, **press})
    table = pd.DataFrame(rows, columns=["team", "period", "start_s", "end_s", "players", "x", "y", *COLUMNS])
    table["target_position"] = [match.players[p].position if p else "" for p in table["target"]]
    table = with_outcomes(match, table, after_s=regain_after_s, gain_m=gain_m)
    return Moments.build("press", table, COLUMNS, params, match.match_id)


@dataclass(frozen=True, eq=False)
class _Block:
    """One organised side against the ball a few instants a second, N instants, P outfield players."""

    period: NDArray[np.int8]
    time_s: NDArray[np.float64]
    pieces: tuple[slice, ...]  # without a break in time
    piece_end: NDArray[np.int64]  # one past the last instant of the piece each instant lies in
    phase: NDArray[np.object_]
    sides: Sides
    holder: NDArray[np.int64]  # position among the opponents, -1 nobody
    speed: NDArray[np.float64]  # towards the ball, (N, P), m/s
    faster: NDArray[np.float64]  # by how much faster than his side as a whole moves that way, m/s
    distance: NDArray[np.float64]  # to the ball, m
    ids: NDArray[np.object_]
    step_s: float
    estimated: bool  # without events


def _block_against_the_ball(match: Match, side: int) -> _Block:
    """Gather the instants in which a side stands organised and the opponents are short of the last third."""
    index = index_of(match)
    frames = index.frames
    names = np.array([*index.phase_names, ""], dtype=object)
    mine, theirs = names[frames.phase[:, side]], names[frames.phase[:, 1 - side]]
    kept = np.flatnonzero(
        (frames.team == 1 - side) & np.isin(mine, _ORGANISED) & np.isin(theirs, _BEFORE_THE_LAST_THIRD)
    )
    sides = sides_at(match, frames.frame[kept], match.teams[side].team_id, velocities=True)
    out = ~sides.own_keeper
    apart = (np.diff(frames.timeline_s[kept]) > 1.5 * frames.frame_s) | (np.diff(frames.period[kept]) != 0)
    edges = [0, *(np.flatnonzero(apart) + 1).tolist(), len(kept)]
    tracking = match.tracking
    assert tracking is not None
    place = np.full(len(tracking.players) + 1, -1)
    others = np.flatnonzero(tracking.team_index != side)
    place[others] = np.arange(len(others))
    places, velocity = sides.own[:, out], sides.own_velocity[:, out]
    return _Block(
        period=frames.period[kept],
        time_s=frames.time_s[kept],
        pieces=tuple(slice(a, b) for a, b in pairwise(edges)),
        piece_end=np.repeat(edges[1:], np.diff(edges)),
        phase=mine[kept],
        sides=sides,
        holder=place[frames.holder[kept]],
        speed=np.nan_to_num(speed_towards(places, velocity, sides.ball), nan=-np.inf),
        faster=np.nan_to_num(speed_towards(places, velocity - side_velocity(velocity), sides.ball), nan=-np.inf),
        distance=np.nan_to_num(distance_to(places, sides.ball), nan=np.inf),
        ids=np.array(sides.own_ids, dtype=object)[out],
        step_s=frames.frame_s,
        estimated=match.events is None,
    )


def _spells(block: _Block, jumping: NDArray[np.bool_], least_run_s: float, pause_s: float) -> list[tuple[int, int]]:
    """Return the spells in which enough players run at the ball, short pauses bridged."""
    runs = runs_of(jumping, block.pieces, max(1, round(least_run_s / block.step_s)))
    joined = bridged(runs, block.piece_end, round(pause_s / block.step_s))
    return [(int(a), int(b)) for a, b in joined]


def _cues_of(block: _Block, spells: list[tuple[int, int]], cues: pd.DataFrame, before_s: float) -> NDArray[np.int64]:
    """Return the last cue before each spell began, as a row of the cues; -1 none in time."""
    first = np.array([a for a, _ in spells], int)
    now = block.period[first] * FAR + block.time_s[first]
    key = cues["period"].to_numpy(float) * FAR + cues["time_s"].to_numpy()
    row = np.searchsorted(key, now + 1e-6, side="right") - 1
    in_time = (row >= 0) & (np.append(key, -np.inf)[row] >= now - before_s - 1e-6)
    return np.where(in_time, row, -1)


def _sprung(
    block: _Block, spells: list[tuple[int, int]], cues: pd.DataFrame, before_s: float
) -> list[tuple[tuple[int, int], int]]:
    """Return each spell with its cue as a row of the cues, -1 none.

    Where nothing had sprung those who already run, the spell begins anew with the first cue given meanwhile.
    """
    now = block.period * FAR + block.time_s
    key = cues["period"].to_numpy(float) * FAR + cues["time_s"].to_numpy()
    found = []
    for (first, last), cue in zip(spells, _cues_of(block, spells, cues, before_s)):
        following = int(np.searchsorted(key, now[first] + 1e-6, side="right"))
        if cue < 0 and following < len(key) and key[following] <= now[last - 1] + 1e-6:
            first, cue = int(np.searchsorted(now, key[following] - 1e-6)), following
        found.append(((first, last), int(cue)))
    return found


def _press(
    block: _Block,
    span: slice,
    jumping: NDArray[np.bool_],
    cue: pd.Series | None,
    reach_m: float,
    engage_m: float,
    arrive_s: float,
    least_run_s: float,
    pause_s: float,
    shadow_m: float,
) -> dict[str, Any] | None:
    """Tell who jumped, how fast and how near the presser came, and whose lane he shut; None if nobody jumped."""
    after = slice(span.start, min(span.stop + round(arrive_s / block.step_s), block.piece_end[span.start]))
    least, second = (max(1, round(s / block.step_s)) for s in (least_run_s, 1.0))
    jumped = np.array([p for p in range(len(block.ids)) if len(runs_of(jumping[span, p], min_frames=least))], int)
    if not len(jumped):
        return None
    held = block.holder[after]
    # A ball that flies past him is not one that he has come near to.
    distance = np.where(held[:, None] >= 0, block.distance[after], np.inf)
    nearest = distance[:, jumped].min(axis=0)
    # Who runs towards a ball far out of reach does not close it down.
    speed = np.where(block.distance[span] <= reach_m, block.speed[span], np.nan)
    closing = best_mean(speed[:, jumped], second)
    lead = int(fastest_there(nearest[None], closing[None], engage_m)[0])
    presser = jumped[lead]
    others = np.delete(jumped, lead)[np.argsort(np.delete(nearest, lead), kind="stable")]
    set_off = span.start + set_off_at(speed[:, presser], jumping[span, presser], second, round(pause_s / block.step_s))
    there = max(span.start + int(distance[:, presser].argmin()), set_off)
    shut = _shut_lane(block, slice(set_off, there + 1), presser, shadow_m)
    on_ball = held[held >= 0]
    held_by = block.sides.other_ids[on_ball[0]] if len(on_ball) else ""
    ball = block.sides.ball[span.start]
    return {
        "period": int(block.period[span.start]),
        "start_s": float(block.time_s[span.start] if cue is None else cue["time_s"]),
        "end_s": float(block.time_s[span.stop - 1]) + block.step_s,
        "players": (block.ids[presser], *block.ids[others]),
        "x": float(ball[0] if cue is None else -cue["x"]),
        "y": float(ball[1] if cue is None else -cue["y"]),
        "cue": "" if cue is None else cue["cue"],
        "presser": block.ids[presser],
        "target": held_by if cue is None else cue["target"],
        "jumpers": len(jumped),
        "closing_ms": float(closing[lead]),
        "run_m": float(block.distance[set_off, presser]),
        "nearest_m": float(nearest[lead]),
        "lane_shut": block.sides.other_ids[shut] if shut >= 0 else "",
        "phase": block.phase[span.start],
        "estimated": block.estimated if cue is None else bool(cue["estimated"]),
    }


def _shut_lane(block: _Block, way: slice, presser: int, shadow_m: float) -> int:
    """Return the opponent in whose lane the presser runs on his way to the ball, -1 nobody."""
    mates, held = block.sides.other[way].copy(), block.holder[way]
    on_ball = np.flatnonzero(held >= 0)
    mates[on_ball, held[on_ball]] = np.nan
    runner = np.flatnonzero(~block.sides.own_keeper)[presser]
    shadow = in_cover_shadow(block.sides.ball[way], mates, block.sides.own[way, runner], shadow_m=shadow_m)
    return longest_in_shadow(shadow)
