"""Formations: how far two of them are apart, which lines they stand in, and what a coach calls them."""

from __future__ import annotations

from functools import cache
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linear_sum_assignment

from tactical_kit.errors import TacticalKitError
from tactical_kit.measures.roles import Roles

__all__ = ["formation_distance", "gaussian_distance", "line_sizes", "pooled_roles", "role_names", "shape_name"]

Floats = NDArray[np.float64]


def gaussian_distance(mean_a: ArrayLike, cov_a: ArrayLike, mean_b: ArrayLike, cov_b: ArrayLike) -> Floats:
    """Return the Wasserstein distance between normal densities of the plane, every one of A with every one of B.

    Parameters
    ----------
    mean_a, cov_a : (A, 2) and (A, 2, 2) array
    mean_b, cov_b : (B, 2) and (B, 2, 2) array
        Means in m, covariances in m2.

    Returns
    -------
    (A, B) ndarray
        In m: W2, the root of norm(m1 - m2)^2 + tr(S1 + S2 - 2 (S2^.5 S1 S2^.5)^.5).

    Notes
    -----
    Source: Dowson & Landau 1982; Givens & Shortt 1984 (from memory).  The root of a 2 x 2 matrix needs its trace and
    determinant alone: tr(M^.5) = (tr M + 2 det(M)^.5)^.5.
    """
    m1, s1, m2, s2 = (np.asarray(a, float) for a in (mean_a, cov_a, mean_b, cov_b))
    apart = ((m1[:, None] - m2[None, :]) ** 2).sum(axis=2)
    trace = np.einsum("aij,bji->ab", s1, s2)
    root_det = np.sqrt(np.maximum(np.linalg.det(s1)[:, None] * np.linalg.det(s2)[None, :], 0.0))
    root = np.sqrt(np.maximum(trace + 2 * root_det, 0.0))
    spread = np.trace(s1, axis1=1, axis2=2)[:, None] + np.trace(s2, axis1=1, axis2=2)[None, :] - 2 * root
    return np.sqrt(np.maximum(apart + spread, 0.0))


def formation_distance(a: Roles, b: Roles) -> float:
    """Return how far two formations are apart: the root mean square distance of their roles, matched best, m.

    NaN where the numbers of players differ.  The names of the players and the place of the side on the pitch do not
    count.

    Source: Shaw & Glickman 2019, Barca summit (second hand): Wasserstein distance between the normal densities of
    the players, players matched; the mean over the roles is the project's own way to give it in metres a player.
    """
    if len(a) != len(b):
        return float("nan")
    square, rows, columns = _matched(a, b)
    return float(np.sqrt(square[rows, columns].mean()))


def pooled_roles(a: Roles, b: Roles, weight_a: float, weight_b: float) -> Roles:
    """Return the formation of two spells put together, roles matched best; no instants."""
    _, _, columns = _matched(a, b)
    share = weight_a / (weight_a + weight_b)
    mean_b, cov_b = b.mean[columns], b.cov[columns]
    mean = share * a.mean + (1 - share) * mean_b
    off = a.mean - mean_b
    cov = share * a.cov + (1 - share) * cov_b + share * (1 - share) * off[:, :, None] * off[:, None, :]
    return Roles(mean, cov, np.empty((0, len(a)), np.int8))


def _matched(a: Roles, b: Roles) -> tuple[Floats, NDArray[np.intp], NDArray[np.intp]]:
    square = gaussian_distance(a.mean, a.cov, b.mean, b.cov) ** 2
    return square, *linear_sum_assignment(square)


# -- lines and names ------------------------------------------------------------------------------------


def line_sizes(
    places: ArrayLike, *, line_gap_m: float = 6.0, bow_m: float = 6.0, fewest_lines: int = 3, most_lines: int = 4
) -> list[tuple[int, ...]]:
    """Read the lines of N formations from how deep their players stand, back line first.

    Parameters
    ----------
    places : (N, R, 2) array
        Mean places of the outfield players in the attacking frame of their side, m; NaN for who is missing.
    line_gap_m : float, default 6
        Two single players at least this far apart in depth stand in different lines; two pairs already at 0.71
        times that.  Common practice, no source.
    bow_m : float, default 6
        A line may bow: a pair at the two sides of the whole line in front of or behind it, at most this far from it in
        depth and at least as far outside of it, belongs to it (full-backs ahead of the centre-backs, wide
        midfielders ahead of the central ones), m.  Common practice, no source.
    fewest_lines, most_lines : int, default 3 and 4
        So many lines, the back line of at least two.

    Returns
    -------
    list of N tuples of int
        Players in each line; () with fewer than `fewest_lines` + 1 players.

    Notes
    -----
    Of all ways to cut the order by depth, the one with the least sum of squared distances to the mean of the
    own line, plus `line_gap_m`^2 / 2 for each line; then bowed lines are joined, while more than `fewest_lines` are
    left.  Players at the same depth are one line, whatever a coach calls it: a 4-2-3-1 without the ball with its
    number ten level with the striker reads 4-4-2.
    Least squares grouping: Fisher 1958, J. Am. Stat. Assoc. 53:789-798 (from memory); the price of a line and the
    bow are the project's own.

    >>> four_four_two = [(0, 3), (0, -3), (1, 15), (1, -15), (11, 4), (11, -4), (12, 18), (12, -18), (24, 0), (25, 5)]
    >>> line_sizes([four_four_two])
    [(4, 4, 2)]
    """
    xy = np.asarray(places, float)
    if xy.ndim != 3 or xy.shape[2:] != (2,):
        raise TacticalKitError(f"places have shape {xy.shape}; expected (formations, players, 2).")
    depth = xy[:, :, 0]
    count = np.isfinite(depth).sum(axis=1)
    order = np.argsort(depth, axis=1, kind="stable")  # NaN last
    ordered = np.take_along_axis(depth, order, axis=1)
    result: list[tuple[int, ...]] = [()] * len(depth)
    for number in np.unique(count[count > fewest_lines]):
        rows = np.flatnonzero(count == number)
        mine = ordered[rows, :number] - ordered[rows, :1]
        total = np.concatenate([np.zeros((len(rows), 1)), np.cumsum(mine, axis=1)], axis=1)
        squares = np.concatenate([np.zeros((len(rows), 1)), np.cumsum(mine**2, axis=1)], axis=1)
        ways = _ways(int(number), fewest_lines, most_lines)
        price = np.concatenate(
            [_price(total, squares, _edges(ways, lines), line_gap_m) for lines in range(fewest_lines, most_lines + 1)],
            axis=1,
        )
        for row, best in zip(rows, price.argmin(axis=1)):
            in_order = xy[row, order[row, :number]]
            result[row] = _bowed(in_order, ways[best], bow_m, fewest_lines)
    return result


def _edges(ways: tuple[tuple[int, ...], ...], lines: int) -> NDArray[np.int64]:
    """Bounds of the lines in the order by depth, one row for each way to make so many lines."""
    sizes = np.array([w for w in ways if len(w) == lines], np.int64).reshape(-1, lines)
    return np.concatenate([np.zeros((len(sizes), 1), np.int64), np.cumsum(sizes, axis=1)], axis=1)


def _price(total: Floats, squares: Floats, edges: NDArray[np.int64], line_gap_m: float) -> Floats:
    """Sum of squared distances to the mean of the own line, from running sums, plus the price; (N, ways)."""
    size, lines = np.diff(edges, axis=1), edges.shape[1] - 1
    inside = np.diff(squares[:, edges], axis=2) - np.diff(total[:, edges], axis=2) ** 2 / size
    return np.asarray(inside.sum(axis=2) + lines * line_gap_m**2 / 2, float)


def _bowed(in_order: Floats, sizes: tuple[int, ...], bow_m: float, fewest: int) -> tuple[int, ...]:
    """Join a pair at the two sides with the line beside it that lies wholly inside of it."""
    while len(sizes) > fewest:
        edges = np.concatenate([[0], np.cumsum(sizes)])
        lines = [in_order[a:b] for a, b in pairwise(edges)]
        for i in range(len(sizes) - 1):
            if _is_wing_pair(lines[i], lines[i + 1], bow_m) or _is_wing_pair(lines[i + 1], lines[i], bow_m):
                sizes = (*sizes[:i], sizes[i] + sizes[i + 1], *sizes[i + 2 :])
                break
        else:
            return sizes
    return sizes


def _is_wing_pair(pair: Floats, line: Floats, bow_m: float) -> bool:
    """Whether two players stand outside of a whole line of two or more, one on either side, and near it in depth."""
    if len(pair) != 2 or len(line) < 2:
        return False
    apart = abs(pair[:, 0].mean() - line[:, 0].mean())
    outside = min(line[:, 1].min() - pair[:, 1].min(), pair[:, 1].max() - line[:, 1].max())
    return bool(apart <= bow_m and outside >= apart and outside > 0)


@cache
def _ways(players: int, fewest: int, most: int) -> tuple[tuple[int, ...], ...]:
    """All ways to make lines of so many players, fewer lines first; the back line has at least two."""
    ways = []
    for lines in range(fewest, most + 1):
        for cuts in combinations(range(1, players), lines - 1):
            sizes = tuple(int(s) for s in np.diff([0, *cuts, players]))
            if sizes[0] >= 2:
                ways.append(sizes)
    return tuple(ways)


def shape_name(sizes: tuple[int, ...]) -> str:
    """Return the name of a shape from the sizes of its lines, "" without lines.

    >>> shape_name((4, 1, 4, 1))
    '4-1-4-1'
    """
    return "-".join(str(s) for s in sizes)


_BACK = {
    1: ("CB",),
    2: ("RCB", "LCB"),
    3: ("RCB", "CB", "LCB"),
    4: ("RB", "RCB", "LCB", "LB"),
    5: ("RWB", "RCB", "CB", "LCB", "LWB"),
}
_MIDDLE = {
    1: ("CM",),
    2: ("RCM", "LCM"),
    3: ("RCM", "CM", "LCM"),
    4: ("RM", "RCM", "LCM", "LM"),
    5: ("RM", "RCM", "CM", "LCM", "LM"),
}
_HOLDING = {
    1: ("DM",),
    2: ("RDM", "LDM"),
    3: ("RDM", "DM", "LDM"),
    4: ("RM", "RDM", "LDM", "LM"),
    5: ("RM", "RDM", "DM", "LDM", "LM"),
}
_ADVANCED = {
    1: ("AM",),
    2: ("RAM", "LAM"),
    3: ("RW", "AM", "LW"),
    4: ("RM", "RCM", "LCM", "LM"),
    5: ("RM", "RCM", "CM", "LCM", "LM"),
}
_FRONT = {
    1: ("ST",),
    2: ("RST", "LST"),
    3: ("RW", "ST", "LW"),
    4: ("RW", "RST", "LST", "LW"),
    5: ("RW", "RST", "ST", "LST", "LW"),
}


def role_names(places: ArrayLike, sizes: tuple[int, ...], *, beside_m: float = 5.0) -> list[str]:
    """Name each role by its line and its place in it, as RB, LCM, ST.

    Parameters
    ----------
    places : (R, 2) array
        Mean places in the attacking frame (left is +y), m.
    sizes : tuple of int
        Players in each line, back line first; see `line_sizes`.
    beside_m : float, default 5
        A pair need not stand on either side of the middle of its team.  If both stand more than this to one side, the
        inner one has the name of that side and the outer one that of the wide man (LAM and LM); if the inner
        one is nearer to the middle and the outer one more than twice this off, he is the central one (AM and LAM), m.
        Common practice, no source.

    Returns
    -------
    list of R str
        Each name once; a line of more than five is numbered from the right, as "M1".

    Notes
    -----
    With one line between back and front its players are CM, RM and so on; with two, those of the deeper are DM,
    those of the other AM.  Common practice, no source.
    """
    xy = np.asarray(places, float)
    if sum(sizes) != len(xy):
        raise TacticalKitError(f"lines of {shape_name(sizes) or 'nobody'} for {len(xy)} places.")
    names = [""] * len(xy)
    middle = float(np.nanmean(xy[:, 1])) if len(xy) else 0.0
    pairs: list[tuple[NDArray[np.intp], dict[int, tuple[str, ...]]]] = []
    deepest_first = np.argsort(xy[:, 0], kind="stable")
    between = {1: [_MIDDLE], 2: [_HOLDING, _ADVANCED], 3: [_HOLDING, _MIDDLE, _ADVANCED]}
    tables = [_BACK, *between.get(len(sizes) - 2, [_MIDDLE] * max(len(sizes) - 2, 0)), _FRONT]
    at = 0
    for size, table, letter in zip(sizes, tables, "D" + "M" * (len(sizes) - 2) + "F"):
        line = deepest_first[at : at + size]
        right_first = line[np.argsort(xy[line, 1], kind="stable")]
        for role, name in zip(right_first, table.get(size) or [f"{letter}{i + 1}" for i in range(size)]):
            names[role] = name
        if size == 2:
            pairs.append((right_first, table))
        at += size
    for pair, table in pairs:
        renamed = _pair_aside(xy[pair, 1] - middle, table, beside_m)
        taken = {name for role, name in enumerate(names) if role not in pair}
        if renamed and not taken & set(renamed):
            names[pair[0]], names[pair[1]] = renamed
    return names


def _pair_aside(across: Floats, table: dict[int, tuple[str, ...]], beside_m: float) -> tuple[str, ...]:
    """Names, right one first, of two players of a line who stand on the same side of the middle; () of others."""
    right, left = (float(y) for y in across)
    if right * left <= 0:
        return ()
    to_left = right > 0
    inner, outer = sorted((abs(right), abs(left)))
    side, wide = (table[2][1], table[4][-1]) if to_left else (table[2][0], table[4][0])
    if inner > beside_m:
        found = (side, wide)
    elif outer > 2 * beside_m:
        found = (table[1][0], side)
    else:
        return ()
    return found if to_left else found[::-1]
