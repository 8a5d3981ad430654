"""Who plays at centre-back, and what a man with the ball draws and opens when he steps in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Tracking
from tactical_kit.measures.lanes import passing_lanes
from tactical_kit.measures.sides import keepers_of

__all__ = ["CENTRE_BACKS", "Space", "centre_backs_of", "drawn_opponent", "free_space", "opened_options"]

CENTRE_BACKS = ("CB", "RCB", "LCB")
Floats = NDArray[np.float64]


def centre_backs_of(match: Match, *, deepest: int = 4, inside_m: float = 15.0) -> frozenset[str]:
    """Return the ids of both sides' centre-backs.

    Parameters
    ----------
    match : Match
        The squads' positions decide; a side that gives none to anybody needs tracking.
    deepest, inside_m : int and float, default 4 and 15 m
        Then: of the four outfield players who stand deepest on average those whose average place is at most 15 m
        from the middle of the pitch.

    Notes
    -----
    Source: common practice, no source.
    """
    found = {p for p, player in match.players.items() if player.position in CENTRE_BACKS}
    tracking = match.tracking
    for side, team in enumerate(match.teams):
        if tracking is None or any(p.position for p in team.players):
            continue
        places = _mean_places(match, tracking, side)
        places[keepers_of(match, tracking) | (tracking.team_index != side)] = np.nan
        order = [i for i in np.argsort(places[:, 0], kind="stable") if np.isfinite(places[i, 0])]
        found |= {tracking.players[i] for i in order[:deepest] if abs(places[i, 1]) <= inside_m}
    return frozenset(found)


def _mean_places(match: Match, tracking: Tracking, side: int) -> Floats:
    """Mean place of every player over a frame each ten seconds, in the attacking frame of a side."""
    sample = slice(0, len(tracking), max(1, int(tracking.rate_hz) * 10))
    sign = np.zeros(len(tracking.period[sample]))
    for p in match.periods:
        sign[tracking.period[sample] == p.number] = p.home_attacks * (1 if side == 0 else -1)
    places = tracking.xy[sample].astype(float) * sign[:, None, None]
    seen = np.isfinite(places)
    return np.asarray(
        np.where(seen.any(axis=0), np.where(seen, places, 0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1), np.nan)
    )


@dataclass(frozen=True, eq=False)
class Space:
    """Room of a man on the ball at N instants, m; inf where nobody is there.

    Parameters
    ----------
    nearest_m : (N,) ndarray
        To the nearest opponent.
    ahead_m : (N,) ndarray
        To the nearest opponent within the angle ahead.
    """

    nearest_m: Floats
    ahead_m: Floats


def free_space(place: ArrayLike, opponents: ArrayLike, *, half_angle_deg: float = 30.0) -> Space:
    """Return how far the nearest opponent is, and the nearest one ahead.

    Parameters
    ----------
    place : (N, 2) array
        The man on the ball, attacking frame, m.
    opponents : (N, Q, 2) array
        Opponents, m; NaN for who is not there.
    half_angle_deg : float, default 30
        Ahead: at most this angle to either side of the way straight up the pitch, degrees.

    Returns
    -------
    Space
        inf where no opponent is there; NaN where the man has no place.

    >>> room = free_space([[0, 0]], [[[3, 4], [10, 0]]])
    >>> room.nearest_m.tolist(), room.ahead_m.tolist()
    ([5.0], [10.0])
    """
    own = np.asarray(place, float)
    away = np.asarray(opponents, float) - own[:, None, :]
    distance = np.hypot(away[..., 0], away[..., 1])
    there = np.isfinite(distance)
    ahead = there & (away[..., 0] >= np.cos(np.radians(half_angle_deg)) * distance - 1e-9)
    unknown = ~np.isfinite(own).all(axis=1)
    nearest, in_front = (
        np.where(unknown, np.nan, np.where(mask, distance, np.inf).min(axis=1)) for mask in (there, ahead)
    )
    return Space(nearest, in_front)


def drawn_opponent(
    carrier_start: ArrayLike,
    carrier_end: ArrayLike,
    opponents_start: ArrayLike,
    opponents_end: ArrayLike,
    *,
    closed_m: float = 3.0,
    reach_m: float = 8.0,
) -> NDArray[np.int64]:
    """Return which opponent each of N carries drew out: the nearest of those who came towards the ball.

    Parameters
    ----------
    carrier_start, carrier_end : (N, 2) array
        The man on the ball, attacking frame, m.
    opponents_start, opponents_end : (N, Q, 2) array
        Opponents when the carry begins and ends, m.
    closed_m : float, default 3
        By his own steps he has come at least this much nearer to where the carry ends, m.
    reach_m : float, default 8
        In the end he is at most this far from the man on the ball, m.

    Returns
    -------
    (N,) int64 ndarray
        Position along the Q axis, -1 for nobody.

    Notes
    -----
    Only an opponent who was goal-side of the ball when the carry began can jump out at it; one who chases from
    behind is not drawn.  Source: common practice, no source.
    """
    start, end = (np.asarray(v, float)[:, None, :] for v in (carrier_start, carrier_end))
    before, after = np.asarray(opponents_start, float), np.asarray(opponents_end, float)
    if before.shape != after.shape or len(before) != len(start):
        raise TacticalKitError(
            f"opponents of shape {before.shape} before and {after.shape} after for {len(start)} carries; expected the "
            "same opponents and one row a carry."
        )
    was, now = (np.hypot(*np.moveaxis(o - end, -1, 0)) for o in (before, after))
    drawn = (was - now >= closed_m - 1e-9) & (now <= reach_m) & (before[..., 0] > start[..., 0])
    nearest = np.where(drawn, now, np.inf)
    return np.where(drawn.any(axis=1), nearest.argmin(axis=1) if nearest.shape[1] else -1, -1).astype(np.int64)


def opened_options(
    ball_start: ArrayLike,
    ball_end: ArrayLike,
    mates_start: ArrayLike,
    mates_end: ArrayLike,
    opponents_start: ArrayLike,
    opponents_end: ArrayLike,
    carrier: ArrayLike,
    *,
    lane_m: float = 2.0,
    free_m: float = 3.0,
    longest_m: float = 30.0,
) -> NDArray[np.bool_]:
    """Tell which team-mates N carries opened: ahead of the ball, to be found in the end, and not before.

    Parameters
    ----------
    ball_start, ball_end : (N, 2) array
        Where the carry begins and ends, m.
    mates_start, mates_end : (N, P, 2) array
        Own players at both instants, m.
    opponents_start, opponents_end : (N, Q, 2) array
        Opponents at both instants, m.
    carrier : (N,) array of int
        The man on the ball, as a position among the own players.
    lane_m, longest_m : float, default 2 and 30
        To be found: the lane to him is open (no opponent nearer to it than 2 m), and he is at most 30 m away, and
    free_m : float, default 3
        the nearest opponent is at least this far from him, m.

    Returns
    -------
    (N, P) bool ndarray

    Notes
    -----
    Source: common practice, no source.
    """
    found = []
    ends = ((ball_start, mates_start, opponents_start), (ball_end, mates_end, opponents_end))
    for ball, mates, opponents in ends:
        lanes = passing_lanes(ball, mates, opponents, passer=carrier, lane_m=lane_m, longest_m=longest_m)
        gap = np.asarray(mates, float)[:, :, None, :] - np.asarray(opponents, float)[:, None, :, :]
        distance = np.hypot(gap[..., 0], gap[..., 1])
        nearest = np.where(np.isfinite(distance), distance, np.inf).min(axis=2, initial=np.inf)
        found.append(lanes.open & (nearest >= free_m))
    ahead = np.asarray(mates_end, float)[..., 0] > np.asarray(ball_end, float)[:, None, 0]
    return np.asarray(found[1] & ~found[0] & ahead)
