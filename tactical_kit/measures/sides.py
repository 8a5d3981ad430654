"""Both sides at many instants at once, turned so that one of them attacks towards +x."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.match import Match, Snapshot, Tracking

__all__ = ["Sides", "keepers_of", "sides_at", "sides_of_snapshot"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sides:
    """Own side, opponents and ball at N instants, in the attacking frame of the own side, m and m/s.

    Parameters
    ----------
    own, other : (N, P, 2) and (N, Q, 2) ndarray
        Places; NaN where a player is not on the pitch or not in the data.  Keepers are among them.
    own_velocity, other_velocity : the same shapes
        NaN where it is not known.
    ball, ball_velocity : (N, 2) ndarray
        NaN unknown.
    own_ids, other_ids : tuple of str
        The P and Q players.
    own_keeper, other_keeper : (P,) and (Q,) bool ndarray
        Who keeps goal.
    """

    own: Floats
    other: Floats
    own_velocity: Floats
    other_velocity: Floats
    ball: Floats
    ball_velocity: Floats
    own_ids: tuple[str, ...]
    other_ids: tuple[str, ...]
    own_keeper: NDArray[np.bool_]
    other_keeper: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.ball)

    def own_index(self, players: ArrayLike) -> NDArray[np.int64]:
        """Return the position of player ids among the own side, -1 for any other name."""
        return _positions(self.own_ids, players)

    def other_index(self, players: ArrayLike) -> NDArray[np.int64]:
        """Return the position of player ids among the opponents, -1 for any other name."""
        return _positions(self.other_ids, players)

    def own_place(self, players: ArrayLike) -> Floats:
        """Return where one own player an instant stands, (N, 2); NaN for "" and for who is not there."""
        at = self.own_index(players)
        return np.where((at >= 0)[:, None], self.own[np.arange(len(self)), np.maximum(at, 0)], np.nan)

    def take(self, rows: ArrayLike) -> Sides:
        """Return some of the instants: by position, or by a mask."""
        kept = np.asarray(rows)
        return Sides(
            self.own[kept], self.other[kept], self.own_velocity[kept], self.other_velocity[kept], self.ball[kept],
            self.ball_velocity[kept], self.own_ids, self.other_ids, self.own_keeper, self.other_keeper,
        )  # fmt: skip

    @property
    def own_outfield(self) -> Floats:
        """The own side without its keeper, (N, P', 2)."""
        return self.own[:, ~self.own_keeper]

    @property
    def other_outfield(self) -> Floats:
        """The opponents without their keeper, (N, Q', 2)."""
        return self.other[:, ~self.other_keeper]


def sides_at(match: Match, frame: ArrayLike, team: str, velocities: bool = False) -> Sides:
    """Gather both sides at N frames of the tracking (or of the stills) for the same own side.

    Parameters
    ----------
    match : Match
        With tracking or stills.
    frame : (N,) array of int
        Frames of `match.instants`; a negative frame is an instant without data: all NaN.
    team : str
        The own side, by id; one for all instants (ask twice for both sides).
    velocities : bool, default False
        Gather them too; otherwise they are NaN and cost nothing.

    Returns
    -------
    Sides
        With every player of the side that appears in the data, in the order of the tracking.

    Raises
    ------
    MissingDataError
        Neither tracking nor stills.
    """
    tracking = match.instants
    if tracking is None:
        tracking = match.need_tracking("The place of players", "Stills give them, too.")
    frame = np.asarray(frame, np.int64).reshape(-1)
    side = match.team_index(team)
    sign = np.zeros(len(frame), np.float32)
    for p in match.periods:
        sign[tracking.period[frame] == p.number] = p.home_attacks * (1 if side == 0 else -1)
    sign[frame < 0] = np.nan
    turn = sign[:, None, None]
    mine, theirs = np.flatnonzero(tracking.team_index == side), np.flatnonzero(tracking.team_index != side)
    keeper = keepers_of(match, tracking)
    own, other = tracking.xy[np.ix_(frame, mine)] * turn, tracking.xy[np.ix_(frame, theirs)] * turn
    if velocities:
        own_v = tracking.velocity[np.ix_(frame, mine)] * turn
        other_v = tracking.velocity[np.ix_(frame, theirs)] * turn
        ball_v = tracking.ball_velocity[frame, :2] * turn[:, 0]
    else:
        own_v, other_v = np.full(own.shape, np.nan), np.full(other.shape, np.nan)
        ball_v = np.full((len(frame), 2), np.nan)
    names = np.array(tracking.players, dtype=object)
    own, other, own_v, other_v, ball, ball_v = (
        np.asarray(a, np.float64) for a in (own, other, own_v, other_v, tracking.ball[frame, :2] * turn[:, 0], ball_v)
    )
    return Sides(
        own, other, own_v, other_v, ball, ball_v,
        tuple(names[mine]), tuple(names[theirs]), keeper[mine], keeper[theirs],
    )  # fmt: skip


def sides_of_snapshot(match: Match, snapshot: Snapshot, team: str) -> Sides:
    """Return one Snapshot as the `Sides` of one instant, N = 1; who is not in it is not among the players.

    Keepers are those of the match; see `keepers_of`.
    """
    own = match.team_index(team)
    turned = snapshot.attacking(own)
    mine, theirs = turned.side(own), turned.side(1 - own)
    names = np.array(snapshot.players, dtype=object)
    gloves = {p for p in names if match.players[p].position == "GK"}
    if match.instants is not None:
        gloves |= set(np.array(match.instants.players, dtype=object)[keepers_of(match, match.instants)])
    keeper = np.array([p in gloves for p in names], bool)
    return Sides(
        turned.xy[None, mine], turned.xy[None, theirs], turned.velocity[None, mine], turned.velocity[None, theirs],
        turned.ball[None, :2], turned.ball_velocity[None, :2],
        tuple(names[mine]), tuple(names[theirs]), keeper[mine], keeper[theirs],
    )  # fmt: skip


def keepers_of(match: Match, tracking: Tracking) -> NDArray[np.bool_]:
    """Tell which players of the tracking keep goal, shape (P,).

    By the position "GK" where the squads give it; a side without one: the player who, over the match, is
    deepest relative to his side (nearest to his own goal line on average).
    """
    keeper = np.array([match.players[p].position == "GK" for p in tracking.players], bool)
    for side in (0, 1):
        mine = tracking.team_index == side
        if (keeper & mine).any() or not mine.any():
            continue
        # Every ten seconds of the match; all of them where there are few, as with stills.
        sample = slice(0, len(tracking), max(1, min(int(tracking.rate_hz) * 10, len(tracking) // 100)))
        sign = np.zeros(len(tracking.period[sample]))
        for p in match.periods:
            sign[tracking.period[sample] == p.number] = p.home_attacks * (1 if side == 0 else -1)
        x = tracking.xy[sample][:, mine, 0] * sign[:, None]
        seen = np.isfinite(x)
        mean = np.where(seen, x, 0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
        mean[seen.sum(axis=0) == 0] = np.inf
        keeper[np.flatnonzero(mine)[int(mean.argmin())]] = True
    return keeper


def _positions(ids: tuple[str, ...], players: ArrayLike) -> NDArray[np.int64]:
    table = {p: i for i, p in enumerate(ids)}
    return np.array([table.get(str(p), -1) for p in np.atleast_1d(np.asarray(players, dtype=object))], np.int64)
