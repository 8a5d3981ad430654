"""Who has the ball in each run of play: from events, from an owner flag, or from who is near the ball."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match
from tactical_kit.match.tracking import Tracking
from tactical_kit.phases._live import BALL_KINDS, Run, Spell, outcome_of

__all__ = ["CONTROL_KINDS", "Run", "changes_from_events", "changes_from_owner", "changes_from_tracking"]

# Actions of a side that has the ball under control; the other kinds of touch alone win no possession.
CONTROL_KINDS = frozenset(("pass", "carry", "shot", "take-on", "interception", "recovery", "claim"))
_SLACK_S = 0.3  # an event may be logged this long before the frame in which the ball is alive
_END_SLACK_S = 2.0  # and what stopped play this long after it
_MAX_REACH_HEIGHT_M = 2.5  # a ball higher than this is out of a standing player's reach
_CORNER_M, _SPOT_M, _LINE_M = 2.0, 1.5, 1.0  # a restart is told by how near the ball lies to a marking


@dataclass
class _Draft:
    """A spell as it comes out of the events, before the short ones are dropped."""

    start_s: float
    side: int
    began: str
    event: int
    shot: bool = False


def changes_from_events(match: Match, runs: list[Run], min_control_s: float) -> None:
    """Fill each run's spells from the events."""
    events = match.events
    assert events is not None
    home, away = match.home.team_id, match.away.team_id
    for number in {run.period for run in runs}:
        part = events[(events["period"] == number)]
        time_s = part["time_s"].to_numpy()
        kind, set_play, team = part["kind"].tolist(), part["set_play"].tolist(), part["team"].tolist()
        outcome = part["outcome"].tolist()
        gained_s = _control_times(part)
        x, y, ex, ey = (part[c].to_numpy() for c in ("x", "y", "end_x", "end_y"))
        side = [0 if t == home else 1 if t == away else -1 for t in team]
        touches = np.array([i for i, k in enumerate(kind) if k in BALL_KINDS and side[i] >= 0], int)
        touch_s = time_s[touches]
        for run in (r for r in runs if r.period == number):
            a, b = np.searchsorted(touch_s, [run.start_s - _SLACK_S, run.end_s - 1e-6])
            inside = touches[a:b].tolist()
            # A last touch of the run before may lie in the slack: a restart begins this run.
            restarts = [j for j, i in enumerate(inside) if set_play[i]]
            if restarts and not run.after_gap:
                inside = inside[restarts[0] :]
            run.spells = _spells(run, inside, gained_s, kind, side, set_play, x, y, min_control_s)
            if run.spells and inside and set_play[inside[0]]:
                run.restart_end = (float(ex[inside[0]]), float(ey[inside[0]]))
            if not run.outcome and not run.before_gap:
                c, d = np.searchsorted(time_s, [run.end_s - _END_SLACK_S, run.end_s + _END_SLACK_S])
                run.outcome = outcome_of(kind[c:d], outcome[c:d])
    _fill_unknown(match, runs)


def _control_times(part: pd.DataFrame) -> NDArray[np.float64]:
    """When each event gives its side control of the ball; NaN where it does not.

    A header in a duel for the ball is a touch like a clearance: only when it reaches a team-mate has the side
    gained the ball.
    """
    gains = part["kind"].isin(CONTROL_KINDS).to_numpy()
    header = ((part["kind"] == "pass") & ((part["detail"] == "header") | (part["body_part"] == "head"))).to_numpy()
    arrives = header & (part["success"].fillna(False)).to_numpy(bool)
    time_s, end_s = part["time_s"].to_numpy(), part["end_s"].to_numpy()
    return np.where(arrives, end_s, np.where(gains & ~header, time_s, np.nan))


def _spells(
    run: Run, inside: list[int], gained_s: NDArray[np.float64], kind: list[str], side: list[int], set_play: list[str],
    x: NDArray[np.float64], y: NDArray[np.float64], min_control_s: float,
) -> list[Spell]:  # fmt: skip
    """Spells of one run from its touches, in order."""
    if not inside:
        return []
    control = [i for i in inside if np.isfinite(gained_s[i])]
    head = inside[0] if set_play[inside[0]] or not control else control[0]
    spells = [_Draft(run.start_s, side[head], set_play[head], head)]
    since: dict[int, int] = {}  # the first touch of a side since the other side last had control
    for i in inside:
        s = side[i]
        since.setdefault(s, i)
        if not np.isfinite(gained_s[i]):
            continue
        if s != spells[-1].side and gained_s[i] < run.end_s:
            first = since[s]
            spells.append(_Draft(max(float(gained_s[i]), run.start_s), s, kind[first], first))
        if s == spells[-1].side:
            spells[-1].shot |= kind[i] == "shot"
        since.pop(1 - s, None)
    merged = spells[:1]
    for spell, end in zip(spells[1:], [*(s.start_s for s in spells[2:]), run.end_s]):
        # A short spell is a touch only; the other side's own spell goes on over it.
        if spell.side != merged[-1].side and (end - spell.start_s >= min_control_s - 1e-6 or spell.shot):
            merged.append(spell)
    return [(s.start_s, s.side, s.began, float(x[s.event]), float(y[s.event])) for s in merged]


def changes_from_owner(match: Match, runs: list[Run], min_control_s: float) -> None:
    """Fill each run's spells from the owner flag of the tracking."""
    tracking = match.tracking
    assert tracking is not None and tracking.owner is not None
    for run in runs:
        owner = _carry_on(tracking.owner[run.first : run.last].astype(np.int64))
        owner = _absorb(owner, max(round(min_control_s * tracking.rate_hz), 1))
        _spells_from_frames(match, tracking, run, owner)
    _fill_unknown(match, runs)


def changes_from_tracking(match: Match, runs: list[Run], contact_m: float, contact_s: float) -> None:
    """Fill each run's spells from which side is nearest to the ball and in reach of it."""
    tracking = match.tracking
    assert tracking is not None
    reach = _in_reach(tracking, contact_m)
    need = max(round(contact_s * tracking.rate_hz), 1)
    for run in runs:
        near = reach[run.first : run.last].astype(np.int64)
        # Frames in reach in a row of touches by one side count together, the ball's flight between them too.
        frames = np.flatnonzero(near >= 0)
        if len(frames):
            sides = near[frames]
            cut = np.flatnonzero(np.diff(sides)) + 1
            starts = np.concatenate(([0], cut))
            ends = np.concatenate((cut, [len(sides)]))
            firm = ends - starts >= need
            firm[0] = True  # whoever is first at the ball takes the restart
            near = np.full(len(near), -1, np.int64)
            near[frames[starts[firm]]] = sides[starts[firm]]
        _spells_from_frames(match, tracking, run, _carry_on(near))
    _fill_unknown(match, runs)


def _in_reach(tracking: Tracking, contact_m: float) -> NDArray[np.int8]:
    """Side of the player nearest to the ball in each frame, -1 where none is in reach."""
    result = np.full(len(tracking), -1, np.int8)
    ball = tracking.ball
    low = ~(ball[:, 2] > _MAX_REACH_HEIGHT_M)  # an unknown height counts as low
    for start in range(0, len(tracking), 20_000):  # in blocks, to hold little memory
        part = slice(start, min(start + 20_000, len(tracking)))
        dx = tracking.xy[part, :, 0] - ball[part, None, 0]
        dy = tracking.xy[part, :, 1] - ball[part, None, 1]
        distance = dx * dx + dy * dy
        distance[~np.isfinite(distance)] = np.inf
        nearest = distance.argmin(axis=1)
        close = distance[np.arange(len(nearest)), nearest] <= contact_m**2
        result[part] = np.where(close & low[part], tracking.team_index[nearest], -1)
    return result


def _carry_on(owner: NDArray[np.int64]) -> NDArray[np.int64]:
    """Let the last known side have the ball until another is known; the first one also before."""
    known = np.flatnonzero(owner >= 0)
    if not len(known):
        return owner
    last = np.searchsorted(known, np.arange(len(owner)), "right") - 1
    return owner[known[np.maximum(last, 0)]]


def _absorb(owner: NDArray[np.int64], need: int) -> NDArray[np.int64]:
    """Give spells of fewer than `need` frames back to the side before; the first of a run stays."""
    cut = np.flatnonzero(np.diff(owner)) + 1
    edges = np.concatenate(([0], cut, [len(owner)]))
    owner = owner.copy()
    for a, b in itertools.pairwise(edges):
        if b - a < need:
            owner[a:b] = owner[a - 1]
    return owner


def _spells_from_frames(match: Match, tracking: Tracking, run: Run, owner: NDArray[np.int64]) -> None:
    if not len(owner) or owner[0] < 0:
        run.spells = []
        return
    cut = [0, *(np.flatnonzero(np.diff(owner)) + 1).tolist()]
    run.spells = []
    for i in cut:
        frame = run.first + i
        x, y = (float(v) for v in tracking.ball[frame, :2])
        began = "recovery" if i else "" if run.after_gap else restart_at(match, run, x, y, int(owner[0]))
        start = run.start_s if i == 0 else float(tracking.time_s[frame])
        run.spells.append((start, int(owner[i]), began, x, y))
    later = min(run.first + round(1.5 * tracking.rate_hz), run.last - 1)
    run.restart_end = (float(tracking.ball[later, 0]), float(tracking.ball[later, 1]))


def restart_at(match: Match, run: Run, x: float, y: float, side: int) -> str:
    """Tell the restart from where the ball lies when it comes into play; "" if nothing fits."""
    pitch = match.pitch
    if not (np.isfinite(x) and np.isfinite(y)):
        return ""
    sign = match.periods[run.period_row].home_attacks * (1 if side == 0 else -1)
    forward = x * sign
    to_goal_line, to_touchline = pitch.half_length - abs(x), pitch.half_width - abs(y)
    if to_goal_line <= _CORNER_M and to_touchline <= _CORNER_M and forward > 0:
        return "corner"
    if np.hypot(x, y) <= _SPOT_M:
        return "kick-off"
    if np.hypot(forward - pitch.penalty_mark_x, y) <= _SPOT_M:
        return "penalty"
    if to_touchline <= _LINE_M:
        return "throw-in"
    if forward < 0 and to_goal_line <= pitch.half_length - pitch.goal_area_x + _LINE_M and abs(y) <= 9.16 + _LINE_M:
        return "goal-kick"
    return "free-kick"


def _fill_unknown(match: Match, runs: list[Run]) -> None:
    """Give a run in which nobody is known to have touched the ball to a side, so that live time is tiled.

    The side before it in the period has the ball, failing that the side after it, failing that the home side.
    """
    for n, run in enumerate(runs):
        if run.spells:
            continue
        before = [r for r in runs[:n] if r.period == run.period and r.spells]
        after = [r for r in runs[n + 1 :] if r.period == run.period and r.spells]
        side = before[-1].spells[-1][1] if before else after[0].spells[0][1] if after else 0
        x = y = float("nan")
        if match.tracking is not None and run.first >= 0:
            x, y = (float(v) for v in match.tracking.ball[run.first, :2])
        run.spells = [(run.start_s, side, "", x, y)]
