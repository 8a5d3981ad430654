"""To which line of his side a player belongs, by where he stands while the block stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.finders.context import index_of
from tactical_kit.match import Match, remembered
from tactical_kit.measures.between import usual_unit_lines
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.unit_lines import UnitLines

__all__ = ["UsualDepths", "opponents_lines", "usual_depths"]

_BLOCK = ("mid-block", "low block")  # a high press follows men and pulls the lines apart
_FAR = 1e5  # seconds; more than any period lasts


def opponents_lines(match: Match, sides: Sides, period: ArrayLike, time_s: ArrayLike, team: str) -> UnitLines:
    """Return the lines of the opponents of a side at N instants, everyone in the line he usually belongs to.

    Parameters
    ----------
    match : Match
        With tracking, or with stills: then by where they stand at the instant.
    sides : Sides
        Both sides at N instants, `sides_at(match, frames, team)`.
    period, time_s : (N,) array
        When.
    team : str
        The side whose opponents are sorted, by id.

    Returns
    -------
    UnitLines
        Over `sides.other_outfield`, in the attacking frame of `team`.
    """
    x = sides.other_outfield[..., 0]
    if match.tracking is None:
        return usual_unit_lines(x, np.full(x.shape, np.nan))
    return usual_unit_lines(x, usual_depths(match, match.opponent(team).team_id).at(period, time_s))


@dataclass(frozen=True, eq=False)
class UsualDepths:
    """Where the outfield players of a side stand without the ball, ready to be averaged around any instant.

    Parameters
    ----------
    key : (S,) ndarray
        Instants, in order: period times 100 000 plus seconds.
    total, number : (S + 1, Q) ndarray
        Sums, up to each instant, of how far ahead of the middle of his side (towards the goal he defends) each
        player stood, m, and of the instants in which he was there.
    window_s, least : float and int
        Instants up to so many seconds off count; with fewer than `least` of them the whole period does.
    """

    key: NDArray[np.float64]
    total: NDArray[np.float64]
    number: NDArray[np.float64]
    window_s: float
    least: int

    def at(self, period: ArrayLike, time_s: ArrayLike) -> NDArray[np.float64]:
        """Return the usual depth of each player around N instants, (N, Q), m; NaN for who never stood there."""
        begin = np.asarray(period, float) * _FAR
        now = begin + np.asarray(time_s, float)
        near = self._between(np.maximum(now - self.window_s, begin), np.minimum(now + self.window_s, begin + _FAR - 1))
        whole = self._between(begin, begin + _FAR - 1)
        total, number = (np.where(near[1] >= self.least, a, b) for a, b in zip(near, whole))
        return np.asarray(np.divide(total, number, out=np.full(total.shape, np.nan), where=number > 0))

    def _between(
        self, first: NDArray[np.float64], last: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        a, b = np.searchsorted(self.key, first), np.searchsorted(self.key, last, side="right")
        return self.total[b] - self.total[a], self.number[b] - self.number[a]


@remembered
def usual_depths(match: Match, team: str, *, window_s: float = 300.0, least_s: float = 20.0) -> UsualDepths:
    """Say where the outfield players of a side stand while it defends in a mid-block or a low block.

    Parameters
    ----------
    match : Match
        With tracking.
    team : str
        The side without the ball, by id.
    window_s : float, default 300
        Averages are over the block of so long before and after an instant, s: a side changes its shape, and who
        comes on may play elsewhere.
    least_s : float, default 20
        Seconds of block in the window, at least, or else the whole period counts.  A period with less block than
        this is averaged over every second in which the opponents have the ball.

    Returns
    -------
    UsualDepths
        Players in the order of the side's outfield players in the tracking.

    Notes
    -----
    Source: common practice, no source; of one to ten minutes to each side, five were taken after trials on simulated
    matches (seeds 1100-1109).
    """
    index = index_of(match)
    frames, side = index.frames, match.team_index(team)
    words = np.append(np.array(index.phase_names, dtype=object), "")
    without = frames.team == 1 - side
    counted = without & np.isin(words[frames.phase[:, side]].astype(str), _BLOCK)
    for period in match.periods:
        here = frames.period == period.number
        if (counted & here).sum() * frames.frame_s < least_s:
            counted |= without & here
    chosen = np.flatnonzero(counted)
    x = sides_at(match, frames.frame[chosen], match.opponent(team).team_id).other_outfield[..., 0]
    there = np.isfinite(x)
    middle = np.where(there, x, 0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
    none = np.zeros((1, x.shape[1]))
    return UsualDepths(
        frames.period[chosen] * _FAR + frames.time_s[chosen],
        np.concatenate([none, np.cumsum(np.where(there, x - middle[:, None], 0), axis=0)]),
        np.concatenate([none, np.cumsum(there, axis=0)]),
        window_s,
        max(round(least_s / frames.frame_s), 1),
    )
