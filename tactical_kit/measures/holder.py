"""Who is on the ball in each tracking frame, and which side has it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match, Tracking
from tactical_kit.match.runs import runs_of

__all__ = ["BallHolder", "ball_holder"]

# What the ball does after each kind of event.  "hold": the player keeps it; "flight": it leaves him and
# his side still has it until somebody controls it; "loose": it leaves him and nobody has it.
_AFTER = {
    "pass": "flight", "shot": "flight", "touch": "flight",
    "carry": "hold", "take-on": "hold", "interception": "hold", "recovery": "hold", "claim": "hold",
    "tackle": "loose", "clearance": "loose", "block": "loose", "duel": "loose", "save": "loose",
    "out": "loose",
}  # fmt: skip
_FAR = 1e5  # seconds; more than any period lasts, so that period * _FAR + time_s orders a whole match


@dataclass(frozen=True, eq=False)
class BallHolder:
    """Who is on the ball, one value a tracking frame.

    Parameters
    ----------
    column : (T,) int16 ndarray
        Index of the player along the tracking's P axis; -1 while nobody is on the ball (a pass on its way,
        a loose ball) and while the ball is out of play.
    team : (T,) int8 ndarray
        Side that has the ball, 0 home, 1 away, passes on their way included; -1 nobody.
    source : str
        "events and tracking" or "tracking".
    params : dict
        Thresholds it was found with.
    """

    column: NDArray[np.int16]
    team: NDArray[np.int8]
    source: str
    params: dict[str, float]


def ball_holder(
    match: Match,
    touch_m: float = 1.2,
    keep_m: float = 3.0,
    reach_height_m: float = 2.5,
    max_ball_speed_ms: float = 11.0,
    min_hold_s: float = 0.16,
    bridge_s: float = 0.6,
) -> BallHolder:
    """Find who is on the ball in every tracking frame.

    With events: the event says whose ball it is, the tracking says from which frame to which he really has
    it.  Without: a player is on the ball from the first frame in which he is the nearest to it, within
    `touch_m`, and it is slow enough to be under control, until it is further than `keep_m` away or somebody
    else is nearer.

    Parameters
    ----------
    match : Match
        Needs tracking.
    touch_m : float, default 1.2
        At most this far from the ball a player can be playing it, m.
    keep_m : float, default 3.0
        A player who has the ball keeps it up to this distance (a touch ahead at a run), m.
    reach_height_m : float, default 2.5
        A ball higher than this is nobody's, m.
    max_ball_speed_ms : float, default 11
        A faster ball has not been brought under control, m/s; only used without events.
    min_hold_s : float, default 0.16
        A shorter hold is a brush with the ball, s; only used without events.
    bridge_s : float, default 0.6
        Two holds of one player at most this far apart are one hold, s; only used without events.

    Returns
    -------
    BallHolder

    Raises
    ------
    MissingDataError
        The match has no tracking.

    Notes
    -----
    Where the tracking has lost the ball or the player, the event's word is taken.  Without events
    the side is the tracking's `owner` where it names one, and none of its opponents is on the ball.  Without
    either a duel between two near players may flicker; the side is steadier than the player.
    Source: common practice, no source.
    """
    tracking = match.need_tracking("The ball holder of each frame", "Events tell who acts, without frames.")
    params = dict(
        touch_m=touch_m, keep_m=keep_m, reach_height_m=reach_height_m, max_ball_speed_ms=max_ball_speed_ms,
        min_hold_s=min_hold_s, bridge_s=bridge_s,
    )  # fmt: skip
    has_events = match.events is not None and match.events["kind"].isin(list(_AFTER)).any()
    if has_events and match.events is not None:
        column, team = _from_events(tracking, match.events, touch_m, keep_m, reach_height_m)
    else:
        column, team = _from_tracking(
            tracking, touch_m, keep_m, reach_height_m, max_ball_speed_ms, min_hold_s, bridge_s
        )  # fmt: skip
    dead = ~tracking.alive
    column[dead], team[dead] = -1, -1
    return BallHolder(column, team, "events and tracking" if has_events else "tracking", params)


def _from_events(
    tracking: Tracking, events: pd.DataFrame, touch_m: float, keep_m: float, reach_height_m: float
) -> tuple[NDArray[np.int16], NDArray[np.int8]]:
    state = _states(tracking, events)
    frame_key = tracking.period * _FAR + tracking.time_s
    at = np.searchsorted(state["key"].to_numpy(), frame_key, side="right") - 1
    known = (at >= 0) & (state["period"].to_numpy()[at] == tracking.period)
    holds = state["holds"].to_numpy()[at]
    origin = np.where(known, state["column"].to_numpy()[at], -1)
    following = np.where(known, state["next_column"].to_numpy()[at], -1)
    team = np.where(known, state["team"].to_numpy()[at], -1).astype(np.int8)

    from_m, to_m = _distance(tracking, origin), _distance(tracking, following)
    low = ~(tracking.ball[:, 2] > reach_height_m)  # an unknown height may be played
    column = np.full(len(tracking), -1, np.int16)
    unseen = ~np.isfinite(from_m)
    stays = holds & (origin >= 0) & (unseen | (low & (from_m <= keep_m)))
    column[stays] = origin[stays]
    # The clock of an event is seldom right to the frame: the passer has the ball until it has left his
    # feet, the receiver from the frame in which it is at his.
    leaving = ~holds & low & (from_m <= touch_m) & ~(to_m < from_m)
    arriving = ~holds & low & (to_m <= touch_m) & ~leaving
    column[leaving], column[arriving] = origin[leaving], following[arriving]
    on_ball = column >= 0
    team[on_ball] = tracking.team_index[column[on_ball]]
    return column, team


def _states(tracking: Tracking, events: pd.DataFrame) -> pd.DataFrame:
    """One row each time the state of the ball changes: key, period, column, next_column, team, holds."""
    after = events["kind"].map(_AFTER)
    # A tackle that is lost leaves the ball where it was.
    after = after.mask((events["kind"] == "tackle") & ((events["outcome"] == "lost") | ~events["success"].fillna(True)))
    used = events[after.notna()]
    after = after[after.notna()]
    names = pd.Index(tracking.players)
    sides = np.append(tracking.team_index, -1)  # -1 indexes the last entry: nobody
    player = names.get_indexer(pd.Index(used["player"]))
    receiver = names.get_indexer(pd.Index(used["receiver"]))
    period = used["period"].to_numpy(float)
    key = period * _FAR + used["time_s"].to_numpy()
    mode = after.to_numpy()
    first = pd.DataFrame({
        "key": key, "period": period, "column": player, "holds": mode == "hold",
        "team": np.where(mode == "loose", -1, sides[player]), "order": np.arange(len(used)) * 2 + 1,
    })  # fmt: skip
    # A ball that leaves its player arrives with the receiver, unless another event comes before that.
    arrival = period * _FAR + used["end_s"].to_numpy()
    latest = np.append(key[1:], np.inf)
    came = (mode != "hold") & (receiver >= 0) & (arrival > key) & (arrival <= latest)
    second = pd.DataFrame({
        "key": arrival, "period": period, "column": receiver, "holds": True, "team": sides[receiver],
        "order": np.arange(len(used)) * 2 + 2,
    })[came]  # fmt: skip
    state = pd.concat([first, second]).sort_values(["key", "order"], ignore_index=True)
    following = np.append(state["column"].to_numpy()[1:], -1)
    same_period = np.append(state["period"].to_numpy()[1:], -1) == state["period"].to_numpy()
    return state.assign(next_column=np.where(same_period, following, -1))


def _distance(tracking: Tracking, column: NDArray[np.integer]) -> NDArray[np.float32]:
    """Distance of one player a frame to the ball, m; NaN where there is none."""
    place = tracking.xy[np.arange(len(tracking)), np.maximum(column, 0)]
    away = np.hypot(place[:, 0] - tracking.ball[:, 0], place[:, 1] - tracking.ball[:, 1])
    away[column < 0] = np.nan
    return away


def _from_tracking(
    tracking: Tracking,
    touch_m: float,
    keep_m: float,
    reach_height_m: float,
    max_ball_speed_ms: float,
    min_hold_s: float,
    bridge_s: float,
) -> tuple[NDArray[np.int16], NDArray[np.int8]]:
    frames = len(tracking)
    if not frames or not tracking.players:
        return np.full(frames, -1, np.int16), np.full(frames, -1, np.int8)
    squared = np.full(frames, np.inf, np.float32)
    nearest = np.full(frames, -1, np.int16)
    for p in range(len(tracking.players)):  # player by player keeps the memory small
        dx = tracking.xy[:, p, 0] - tracking.ball[:, 0]
        dy = tracking.xy[:, p, 1] - tracking.ball[:, 1]
        d2 = dx * dx + dy * dy
        nearer = d2 < squared  # False for NaN
        squared[nearer] = d2[nearer]
        nearest[nearer] = p
    speed = np.hypot(tracking.ball_velocity[:, 0], tracking.ball_velocity[:, 1])
    near = tracking.alive & (squared <= keep_m**2) & ~(tracking.ball[:, 2] > reach_height_m)
    sure = near & (squared <= touch_m**2) & ~(speed > max_ball_speed_ms)

    # A run: frames in which the same player stays the nearest.  His hold starts with the first sure frame.
    broken = np.ones(frames, bool)
    broken[1:] = (nearest[1:] != nearest[:-1]) | ~near[:-1]
    for segment in tracking.segments:
        broken[segment.start] = True
    run = np.cumsum(broken)
    first_sure = np.full(run[-1] + 1, frames, np.int64)
    sure_at = np.flatnonzero(sure)
    np.minimum.at(first_sure, run[sure_at], sure_at)
    held = near & (np.arange(frames) >= first_sure[run])
    lasting = np.bincount(run, weights=held, minlength=run[-1] + 1)[run] >= max(min_hold_s * tracking.rate_hz, 1)
    column = np.where(held & lasting, nearest, -1).astype(np.int16)
    column = _bridge(column, tracking, near, round(bridge_s * tracking.rate_hz))

    # The side keeps the ball from one hold to the next, until the ball is dead or the data break off.
    on_ball = column >= 0
    barrier = ~tracking.alive
    for segment in tracking.segments:
        barrier[segment.start] |= not on_ball[segment.start]
    mark = np.where(on_ball | barrier, np.arange(frames), 0)
    last = np.maximum.accumulate(mark)
    team = np.where(on_ball, tracking.team_index[np.maximum(column, 0)], -1).astype(np.int8)[last]
    if tracking.owner is not None:
        team = np.where(tracking.owner >= 0, tracking.owner, team).astype(np.int8)
        # An opponent near the ball is not on it while the data say that the other side has it.
        column[on_ball & (tracking.team_index[np.maximum(column, 0)] != team)] = -1
    return column, team


def _bridge(
    column: NDArray[np.int16], tracking: Tracking, near: NDArray[np.bool_], max_frames: int
) -> NDArray[np.int16]:
    """Fill short gaps between two holds of one player, if the ball never got out of anybody's reach."""
    for start, end in runs_of(column < 0, tracking.segments):
        inside = start > 0 and end < len(column) and end - start <= max_frames
        if inside and column[start - 1] == column[end] and column[end] >= 0 and near[start:end].all():
            column[start:end] = column[end]
    return column
