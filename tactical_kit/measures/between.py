"""Between the lines: who stands behind the opponents' midfield line and in front of their back line."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.measures.unit_lines import BACK, MIDFIELD, UnitLines, unit_lines

__all__ = ["facing_words", "in_the_gap", "pinned_defender", "usual_unit_lines"]

Floats = NDArray[np.float64]


def usual_unit_lines(x: ArrayLike, usual_depth: ArrayLike) -> UnitLines:
    """Sort the outfield players into lines by where they usually stand, and say where these lines are now.

    Parameters
    ----------
    x : (N, Q) array
        Outfield players in the attacking frame of their OPPONENTS, m; NaN for who is not there.
    usual_depth : (N, Q) array
        How far ahead of the middle of his side (nearer to the goal it defends) each player usually stands, m; NaN
        unknown: then where he stands now.

    Returns
    -------
    UnitLines
        `line` by the usual depth, `x` from the places at the instant.

    Notes
    -----
    A full-back who has stepped out to press still belongs to the back line, which `unit_lines` alone cannot know.
    Source: common practice, no source.

    >>> now = [[35, 34, 35, 16, 20, 22, 21, 20, 8, 9]]  # the left-back has stepped out
    >>> usual = [[12, 12, 12, 12, 0, 0, 0, 0, -12, -12]]
    >>> lines = usual_unit_lines(now, usual)
    >>> lines.line[0].tolist(), lines.x[0].round(2).tolist()
    ([0, 0, 0, 0, 1, 1, 1, 1, 2, 2], [30.0, 20.75, 8.5])
    """
    places, depth = np.asarray(x, float), np.asarray(usual_depth, float)
    there = np.isfinite(places)
    number = np.maximum(there.sum(axis=1, keepdims=True), 1)
    middle = np.where(there, places, 0).sum(axis=1, keepdims=True) / number
    belongs = unit_lines(np.where(there, np.where(np.isfinite(depth), depth, places - middle), np.nan))
    mean = np.full((len(places), 3), np.nan)
    for line in range(3):
        mine = belongs.line == line
        counted = mine.sum(axis=1)
        total = np.where(mine, places, 0).sum(axis=1)
        mean[:, line] = np.divide(total, counted, out=np.full(len(places), np.nan), where=counted > 0)
    return UnitLines(belongs.line, mean, belongs.size)


def in_the_gap(
    places: ArrayLike, lines: UnitLines, *, across_m: float = 22.0, inside_m: float = 0.0, least_gap_m: float = 4.0
) -> NDArray[np.bool_]:
    """Tell who stands between the opponents' midfield line and their back line.

    Parameters
    ----------
    places : (N, P, 2) array
        Players of the side with the ball in its attacking frame, m; NaN for who is not there.
    lines : UnitLines
        Of the opponents, at the same N instants and in the same frame.
    across_m : float, default 22
        At most this far from the middle of the pitch: the centre and the half-spaces, m.
    inside_m : float, default 0
        At least this far from each of the two lines, m.
    least_gap_m : float, default 4
        The lines are at least this far apart, m; nearer together there is no room to stand in.

    Returns
    -------
    (N, P) bool ndarray

    Notes
    -----
    Source: common practice, no source.
    """
    at = np.asarray(places, float)
    midfield, back = lines.x[:, MIDFIELD, None], lines.x[:, BACK, None]
    with np.errstate(invalid="ignore"):
        inside = (at[..., 0] >= midfield + inside_m) & (at[..., 0] <= back - inside_m)
        return np.asarray(inside & (back - midfield >= least_gap_m) & (np.abs(at[..., 1]) <= across_m))


def pinned_defender(
    receiver: ArrayLike,
    mates: ArrayLike,
    opponents: ArrayLike,
    line: ArrayLike,
    *,
    pin_m: float = 10.0,
    outside_m: float = 8.0,
    behind_m: float = 15.0,
    free_m: float = 5.0,
) -> NDArray[np.int64]:
    """Name the wide defender whom a man between the lines holds inside.

    He is the outermost man of the back line on the receiver's side of the pitch, if the receiver is near him and
    a team-mate of the receiver stands free well outside him: should he stay, the ball outside is on; should he go,
    the receiver is free.

    Parameters
    ----------
    receiver : (N, 2) array
        The man between the lines, m, attacking frame of his side.
    mates : (N, P, 2) array
        His side without himself, m; NaN for who is not there.
    opponents : (N, Q, 2) array
        Opponents without their keeper, m.
    line : (N, Q) array
        Line of each opponent, 0 for the back line.
    pin_m : float, default 10
        The defender is at most this far from the receiver, m.
    outside_m : float, default 8
        A team-mate is at least this much further out than the defender, m,
    behind_m : float, default 15
        at most so far behind the receiver, m,
    free_m : float, default 5
        and has no opponent nearer than this, m.

    Returns
    -------
    (N,) int64 ndarray
        Position of the defender along the opponents' axis, -1 for none.

    Notes
    -----
    Source: common practice, no source.
    """
    at, own, other = (np.asarray(v, float) for v in (receiver, mates, opponents))
    side = np.where(at[:, 1] >= 0, 1.0, -1.0)[:, None]
    in_back = np.asarray(line) == BACK
    if not in_back.shape[1]:
        return np.full(len(at), -1, np.int64)
    outness = np.where(in_back & np.isfinite(other[..., 1]), other[..., 1] * side, -np.inf)
    outermost = outness.argmax(axis=1)
    row = np.arange(len(at))
    his = other[row, outermost]
    with np.errstate(invalid="ignore"):
        near = np.hypot(his[:, 0] - at[:, 0], his[:, 1] - at[:, 1]) <= pin_m
        on_his_side = outness[row, outermost] > 0
        outside = own[..., 1] * side >= outness[row, outermost][:, None] + outside_m
        outside &= own[..., 0] >= at[:, None, 0] - behind_m
        close = np.hypot(*np.moveaxis(own[:, :, None] - other[:, None], -1, 0)) < free_m
        outside &= ~close.any(axis=2)
    return np.where(near & on_his_side & outside.any(axis=1), outermost, -1)


def facing_words(
    velocity: ArrayLike,
    to_ball: ArrayLike,
    *,
    still_ms: float = 1.0,
    goal_deg: float = 60.0,
    own_goal_deg: float = 120.0,
) -> NDArray[np.object_]:
    """Say which way a receiver looks, as far as his run and the ball show it.

    Parameters
    ----------
    velocity : (N, 2) array
        The receiver's, attacking frame, m/s; NaN unknown.
    to_ball : (N, 2) array
        From him to where the pass comes from, m; NaN unknown.
    still_ms : float, default 1
        Slower than this he is taken to look at the ball, from this on the way he runs, m/s.
    goal_deg, own_goal_deg : float, default 60 and 120
        Up to and including the one angle to the direction of play he looks at the opponents' goal, from the other on
        at his own, degrees.

    Returns
    -------
    (N,) object ndarray of str
        "goal", "side", "own goal", or "" where nothing is known.

    Notes
    -----
    Tracking shows where a player is, not how his body is turned; this is an estimate.
    Source: common practice, no source.

    >>> facing_words([[4, 0], [0.2, 0], [0, 3]], [[-10, 0], [-10, 0], [-10, 0]]).tolist()
    ['goal', 'own goal', 'side']
    """
    run, look = np.asarray(velocity, float), np.asarray(to_ball, float)
    speed = np.hypot(run[:, 0], run[:, 1])
    way = np.where((speed >= still_ms)[:, None], run, look)
    length = np.hypot(way[:, 0], way[:, 1])
    cosine = np.divide(way[:, 0], length, out=np.full(len(way), np.nan), where=length > 0)
    angle = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
    words = np.full(len(way), "", dtype=object)
    words[np.isfinite(angle)] = "side"
    words[angle <= goal_deg + 1e-9] = "goal"
    words[angle >= own_goal_deg - 1e-9] = "own goal"
    return words
