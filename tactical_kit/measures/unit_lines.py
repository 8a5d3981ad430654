"""The unit lines of a side without the ball: who stands in its back line, midfield line and first line."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError

__all__ = ["BACK", "FIRST", "LINE_NAMES", "MIDFIELD", "UnitLines", "unit_lines"]

BACK, MIDFIELD, FIRST = 0, 1, 2
LINE_NAMES = ("back line", "midfield line", "first line")


@dataclass(frozen=True, eq=False)
class UnitLines:
    """Lines of one side at N instants.

    Parameters
    ----------
    line : (N, Q) int8 ndarray
        Line of each player: 0 back line, 1 midfield line, 2 first line; -1 not there, or too few players.
    x : (N, 3) ndarray
        Mean x of each line in the frame it was asked in, m; NaN with too few players.
    size : (N, 3) int8 ndarray
        Players in each line.
    """

    line: NDArray[np.int8]
    x: NDArray[np.float64]
    size: NDArray[np.int8]

    def take(self, rows: ArrayLike) -> UnitLines:
        """Return some of the instants: by position, or by a mask."""
        kept = np.asarray(rows)
        return UnitLines(self.line[kept], self.x[kept], self.size[kept])


def unit_lines(
    x: ArrayLike, *, most_back: int = 5, fewest_back: int = 3, fewest_midfield: int = 2, min_players: int = 7
) -> UnitLines:
    """Sort the outfield players of a side into three lines by how deep they stand.

    Parameters
    ----------
    x : (N, Q) array
        Outfield players in the attacking frame of their OPPONENTS (the side with the ball), so that a greater x
        is nearer to the goal they defend, m; NaN for who is not there.
    most_back, fewest_back : int, default 5 and 3
        Players in the back line; one fewer is enough for each player short of ten, but at least two.
    fewest_midfield : int, default 2
        Players in the midfield line, at least (one with fewer than nine).  The first line has at least one.
    min_players : int, default 7
        With fewer players in the data there are no lines.

    Returns
    -------
    UnitLines

    Notes
    -----
    Of all ways to cut the order by depth into three groups of allowed sizes, the one with the least sum of
    squared distances to the mean of the own group, which is exact in one dimension.  A player who has stepped
    out far is counted where he stands, not where he belongs; average the places over a few seconds first if
    the line he belongs to is wanted.
    Source: least squares grouping, Fisher 1958, J. Am. Stat. Assoc. 53:789-798 (from memory); three unit lines as in
    FIFA's training centre 2024 (forward, midfield, defensive); the sizes are common practice, no source.

    >>> lines = unit_lines([[35, 34, 35, 34, 20, 22, 21, 20, 8, 9]])
    >>> lines.line[0].tolist(), lines.x[0].round(1).tolist()
    ([0, 0, 0, 0, 1, 1, 1, 1, 2, 2], [34.5, 20.8, 8.5])
    """
    places = np.asarray(x, float)
    if places.ndim != 2:
        raise TacticalKitError(f"x has shape {places.shape}; expected one row an instant and one column a player.")
    n, q = places.shape
    line = np.full((n, q), -1, np.int8)
    mean, size = np.full((n, 3), np.nan), np.zeros((n, 3), np.int8)
    there = np.isfinite(places)
    count = there.sum(axis=1)
    order = np.argsort(np.where(there, -places, np.inf), axis=1, kind="stable")  # deepest first
    ordered = np.take_along_axis(np.where(there, places, 0.0), order, axis=1)
    total = np.concatenate([np.zeros((n, 1)), np.cumsum(ordered, axis=1)], axis=1)
    squares = np.concatenate([np.zeros((n, 1)), np.cumsum(ordered**2, axis=1)], axis=1)
    for number in np.unique(count[count >= min_players]):
        rows = np.flatnonzero(count == number)
        least_back = max(2, fewest_back - max(0, 10 - int(number)))
        least_midfield = fewest_midfield if number >= 9 else 1
        cuts = [
            (a, b)
            for a, b in combinations(range(1, int(number)), 2)
            if least_back <= a <= most_back and b - a >= least_midfield
        ]
        if not cuts:
            continue
        spread = np.stack([_spread(total[rows], squares[rows], (0, a, b, int(number))) for a, b in cuts], axis=1)
        best = np.array(cuts)[spread.argmin(axis=1)]
        edges = np.column_stack([np.zeros(len(rows), int), best, np.full(len(rows), number)])
        place_in_order = np.arange(q)[None, :]
        code = (place_in_order >= best[:, :1]).astype(np.int8) + (place_in_order >= best[:, 1:])
        code = np.where(place_in_order < number, code, -1).astype(np.int8)
        mine = np.full((len(rows), q), -1, np.int8)
        np.put_along_axis(mine, order[rows], code, axis=1)
        line[rows] = mine
        length = np.diff(edges, axis=1)
        size[rows] = length
        mean[rows] = np.diff(np.take_along_axis(total[rows], edges, axis=1), axis=1) / length
    return UnitLines(line, mean, size)


def _spread(
    total: NDArray[np.float64], squares: NDArray[np.float64], edges: tuple[int, int, int, int]
) -> NDArray[np.float64]:
    """Sum of squared distances to the group means for one way of cutting."""
    result = np.zeros(len(total))
    for a, b in pairwise(edges):
        result += squares[:, b] - squares[:, a] - (total[:, b] - total[:, a]) ** 2 / (b - a)
    return result
