"""To which line of his side a player belongs, by where he stands while the block stands."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.finders.context import index_of
from tactical_kit.match import Match, remembered
from tactical_kit.measures.between import usual_unit_lines
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.unit_lines import UnitLines

__all__ = ["opponents_lines", "usual_depths"]

_BLOCK = ("high press", "mid-block", "low block")


def opponents_lines(match: Match, sides: Sides, period: ArrayLike, team: str) -> UnitLines:
    """Return the lines of the opponents of a side at N instants, everyone in the line he usually belongs to.

    Parameters
    ----------
    match : Match
        With tracking, or with stills: then by where they stand at the instant.
    sides : Sides
        Both sides at N instants, `sides_at(match, frames, team)`.
    period : (N,) array
        Period of each instant.
    team : str
        The side whose opponents are sorted, by id.

    Returns
    -------
    UnitLines
        Over `sides.other_outfield`, in the attacking frame of `team`.
    """
    x = sides.other_outfield[..., 0]
    depth = np.full(x.shape, np.nan)
    if match.tracking is not None:
        usual = usual_depths(match, match.opponent(team).team_id)
        for number, known in usual.items():
            depth[np.asarray(period) == number] = known
    return usual_unit_lines(x, depth)


@remembered
def usual_depths(match: Match, team: str, least_s: float = 20.0) -> dict[int, NDArray[np.float64]]:
    """Return how far ahead of the middle of his side, towards the goal he defends, each outfield player stands.

    Parameters
    ----------
    match : Match
        With tracking.
    team : str
        The side without the ball, by id.
    least_s : float, default 20
        Seconds of high press, mid-block and low block in a period, at least; with fewer every second in which the
        opponents have the ball counts.

    Returns
    -------
    dict of period to (Q,) ndarray
        In the order of the side's outfield players in the tracking, m; NaN for who never stood there.

    Notes
    -----
    An average over a whole period: a side that changes its shape within one is sorted by what it did longer.
    Source: common practice, no source.
    """
    index = index_of(match)
    frames, side = index.frames, match.team_index(team)
    words = np.append(np.array(index.phase_names, dtype=object), "")
    without = frames.team == 1 - side
    block = without & np.isin(words[frames.phase[:, side]].astype(str), _BLOCK)
    result = {}
    for period in match.periods:
        here = frames.period == period.number
        chosen = np.flatnonzero(here & block)
        if len(chosen) * frames.frame_s < least_s:
            chosen = np.flatnonzero(here & without)
        chosen = chosen[:: max(1, len(chosen) // 2000)]  # some two thousand instants are plenty for a mean
        x = sides_at(match, frames.frame[chosen], match.opponent(team).team_id).other_outfield[..., 0]
        there = np.isfinite(x)
        middle = np.where(there, x, 0).sum(axis=1) / np.maximum(there.sum(axis=1), 1)
        seen = there.sum(axis=0)
        total = np.where(there, x - middle[:, None], 0).sum(axis=0)
        result[period.number] = np.divide(total, seen, out=np.full(x.shape[1], np.nan), where=seen > 0)
    return result
