"""Support around a player who has the ball out wide: who is behind him, inside him, ahead of him, and who is open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.match import Match
from tactical_kit.measures.lanes import Lanes, passing_lanes
from tactical_kit.measures.sides import Sides, keepers_of
from tactical_kit.pitch import Pitch

__all__ = ["Trades", "WideSupport", "trades_of", "triangles_around", "wide_support"]

Floats = NDArray[np.float64]
Masks = NDArray[np.bool_]
_WIDE, _CENTRE_BACK = ("RB", "LB", "RWB", "LWB"), ("RCB", "CB", "LCB")
_PIVOT, _MIDFIELD = ("DM",), ("CM", "RCM", "LCM")


@dataclass(frozen=True)
class Trades:
    """Who of a side plays which trade that matters out wide; sets of player ids.

    Parameters
    ----------
    wide : frozenset
        Full-backs and wing-backs.
    centre_backs : frozenset
        Centre-backs.
    pivots : frozenset
        Holding midfielders.
    midfielders : frozenset
        Other central midfielders: the nearest of them is the pivot where no holding one is on the pitch.
    by_place : bool
        The squad names no trades; told from where they stand on average.
    """

    wide: frozenset[str]
    centre_backs: frozenset[str]
    pivots: frozenset[str]
    midfielders: frozenset[str]
    by_place: bool


def trades_of(match: Match, team: str, *, wide_m: float = 10.0) -> Trades:
    """Tell the full-backs, centre-backs and midfielders of a side, by the squad or by where they stand.

    Parameters
    ----------
    match : Match
        Squads with positions, or tracking or stills.
    team : str
        The side, by id.
    wide_m : float, default 10
        Without positions in the squad: a full-back stands at least this far from the middle of his side, across, m.

    Returns
    -------
    Trades

    Notes
    -----
    Without positions in the squad: of the outfield players the deepest four (on average, relative to the side) are
    the back line, the wide ones among them the full-backs; the next three, if not wide, are midfielders, the
    deepest of these the pivot.  Source: common practice, no source.
    """
    squad = {p.player_id: p.position for p in match.team(team).players}
    if any(p in (*_WIDE, *_CENTRE_BACK) for p in squad.values()):

        def named(*trades: str) -> frozenset[str]:
            return frozenset(i for i, position in squad.items() if position in trades)

        return Trades(named(*_WIDE), named(*_CENTRE_BACK), named(*_PIVOT), named(*_MIDFIELD), False)
    nobody: frozenset[str] = frozenset()
    tracking = match.instants
    if tracking is None or not len(tracking):
        return Trades(nobody, nobody, nobody, nobody, True)
    mine = np.flatnonzero((tracking.team_index == match.team_index(team)) & ~keepers_of(match, tracking))
    sample = slice(0, len(tracking), max(1, len(tracking) // 2000))
    sign = match.attack_signs(np.full(len(tracking.period[sample]), team, dtype=object), tracking.period[sample])
    places = tracking.xy[sample][:, mine].astype(float) * sign[:, None, None]
    there = np.isfinite(places[..., :1])
    middle = np.where(there, places, 0).sum(axis=1, keepdims=True) / np.maximum(there.sum(axis=1, keepdims=True), 1)
    seen = there.sum(axis=0)
    mean = np.where(there, places - middle, 0).sum(axis=0) / np.maximum(seen, 1)
    depth = np.where(seen[:, 0] > 0, mean[:, 0], np.inf)
    order, ids = np.argsort(depth, kind="stable"), np.array(tracking.players, dtype=object)[mine]
    is_wide = np.abs(mean[:, 1]) >= wide_m
    back, middle_men = order[:4], [i for i in order[4:7] if not is_wide[i]]
    return Trades(
        frozenset(ids[i] for i in back if is_wide[i]),
        frozenset(ids[i] for i in back if not is_wide[i]),
        frozenset(ids[i] for i in middle_men[:1]),
        frozenset(ids[i] for i in middle_men[1:]),
        True,
    )


@dataclass(frozen=True, eq=False)
class WideSupport:
    """Support around the man on the ball at N instants; P players of his side.

    Parameters
    ----------
    lanes : Lanes
        From his place to each of his side within reach.
    pivot, inside, ahead, behind : (N,) int64 ndarray
        The pivot, the nearest man in the half-space, the nearest down the line and the nearest centre-back behind, as
        positions along the side's axis; -1 nobody.
    pivot_m : (N,) ndarray
        Distance of the pivot, m; NaN without one.
    triangles : (N,) int64 ndarray
        See `triangles_around`.
    """

    lanes: Lanes
    pivot: NDArray[np.int64]
    inside: NDArray[np.int64]
    ahead: NDArray[np.int64]
    behind: NDArray[np.int64]
    pivot_m: Floats
    triangles: NDArray[np.int64]


def wide_support(
    sides: Sides,
    carrier: ArrayLike,
    trades: Trades,
    pitch: Pitch,
    *,
    lane_m: float = 2.0,
    reach_m: float = 30.0,
    near_m: float = 20.0,
    least_deg: float = 25.0,
    level_m: float = 5.0,
) -> WideSupport:
    """Look around the man on the ball at N instants.

    Parameters
    ----------
    sides : Sides
        Both sides in the attacking frame of his side.
    carrier : (N,) array of int
        His position along the side's axis.
    trades : Trades
        Who plays what.
    pitch : Pitch
        For the corridors.
    lane_m : float, default 2
        An open lane has no opponent nearer to it than this, m.
    reach_m : float, default 30
        A man at most so far away can be an option, in the half-space, down the line or behind, m.
    near_m, least_deg : float, default 20 and 25
        Of a triangle, see `triangles_around`, m and degrees.
    level_m : float, default 5
        The man in the half-space stands at most so far behind the ball; the man down the line and the centre-back
        behind stand at least so far ahead of it or behind it, m.

    Returns
    -------
    WideSupport

    Notes
    -----
    The half-space and the wing are those of the man's side of the pitch (`Pitch.corridor_edges`).
    Source: common practice, no source.
    """
    carrier = np.asarray(carrier, np.int64)
    n, p = sides.own.shape[:2]
    row = np.arange(n)
    at = sides.own[row, carrier]
    ahead = sides.own[..., 0] - at[:, None, 0]
    outness = sides.own[..., 1] * np.where(at[:, 1] >= 0, 1.0, -1.0)[:, None]
    away = np.hypot(sides.own[..., 0] - at[:, None, 0], sides.own[..., 1] - at[:, None, 1])
    away[row, carrier] = np.nan
    inner, outer = pitch.corridor_edges[3:5]
    outfield = ~sides.own_keeper
    with np.errstate(invalid="ignore"):
        near = (away <= reach_m) & outfield
        in_half_space = near & (outness >= inner) & (outness < outer) & (ahead >= -level_m)
        down_the_line = near & (outness >= outer) & (ahead >= level_m)
        behind = near & (ahead <= -level_m) & _are(sides, trades.centre_backs)
    pivots, others = _are(sides, trades.pivots) & np.isfinite(away), _are(sides, trades.midfielders)
    # He who has the ball himself is no pivot to come; with no holding midfielder there the nearest other one is.
    candidates = np.where(pivots.any(axis=1, keepdims=True), pivots, others & np.isfinite(away))
    pivot = _nearest(candidates, away)
    lanes = passing_lanes(at, sides.own, sides.other, passer=carrier, lane_m=lane_m, longest_m=reach_m)
    return WideSupport(
        lanes,
        pivot,
        _nearest(in_half_space, away),
        _nearest(down_the_line, away),
        _nearest(behind, away),
        np.where(pivot >= 0, away[row, np.maximum(pivot, 0)], np.nan) if p else np.full(n, np.nan),
        triangles_around(
            at,
            np.where((outfield & np.isfinite(away))[..., None], sides.own, np.nan),
            near_m=near_m,
            least_deg=least_deg,
        ),
    )


def triangles_around(
    place: ArrayLike, mates: ArrayLike, *, near_m: float = 20.0, least_deg: float = 25.0
) -> NDArray[np.int64]:
    """Count the triangles that the man on the ball forms with two team-mates at N instants.

    Parameters
    ----------
    place : (N, 2) array
        The man on the ball, m.
    mates : (N, P, 2) array
        His team-mates without him, m; NaN for who is not there.
    near_m : float, default 20
        No side is longer than this, m.
    least_deg : float, default 25
        No angle is smaller than this, degrees: three men nearly in a line are no triangle.

    Returns
    -------
    (N,) int64 ndarray

    Notes
    -----
    Source: geometry (law of cosines); the limits are common practice, no source.

    >>> triangles_around([[0, 0]], [[[10, 0], [5, 8], [30, 0]]]).tolist()
    [1]
    """
    at, other = np.asarray(place, float), np.asarray(mates, float)
    i, j = np.triu_indices(other.shape[1], 1)
    legs = np.hypot(other[..., 0] - at[:, None, 0], other[..., 1] - at[:, None, 1])
    a, b = legs[:, i], legs[:, j]
    c = np.hypot(other[:, i, 0] - other[:, j, 0], other[:, i, 1] - other[:, j, 1])
    with np.errstate(invalid="ignore"):
        small = (np.maximum(np.maximum(a, b), c) <= near_m) & (np.minimum(np.minimum(a, b), c) > 0)
        cosines = [
            (u**2 + v**2 - w**2) / np.where(small, 2 * u * v, 1.0) for u, v, w in ((a, b, c), (a, c, b), (b, c, a))
        ]
        # The smallest angle has the greatest cosine.
        wide_enough = np.max(cosines, axis=0) <= np.cos(np.radians(least_deg)) + 1e-12
    return np.asarray((small & wide_enough).sum(axis=1), np.int64)


def _are(sides: Sides, ids: frozenset[str]) -> Masks:
    return np.array([i in ids for i in sides.own_ids], bool)


def _nearest(candidates: Masks, away: Floats) -> NDArray[np.int64]:
    """Nearest of the candidates of each instant, -1 nobody."""
    if not candidates.shape[1]:
        return np.full(len(candidates), -1, np.int64)
    distance = np.where(candidates, away, np.inf)
    nearest = distance.argmin(axis=1)
    return np.where(np.isfinite(distance[np.arange(len(distance)), nearest]), nearest, -1)
