"""Opponents and unit lines taken out by a pass or a carry: how many stand behind the ball afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Tracking
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.unit_lines import LINE_NAMES, UnitLines, unit_lines

__all__ = ["BEATEN_COLUMNS", "WAYS", "LinesOf", "LinesPassed", "beaten_by", "lines_passed", "opponents_beaten"]

WAYS = ("through", "around", "over")
BEATEN_COLUMNS: dict[str, str] = {
    "opponents_beaten": "float64",
    "lines_beaten": "float64",
    "line": "str",
    "how": "str",
    "gap_m": "float64",
    "first_line": "str",
    "midfield_line": "str",
    "back_line": "str",
    "beaten": "object",
}
Floats = NDArray[np.float64]
# Both sides at N instants, period and time_s of each, the side with the ball: the lines of its opponents there.
LinesOf = Callable[[Sides, NDArray[np.int64], Floats, str], UnitLines]


def opponents_beaten(
    start_x: ArrayLike, end_x: ArrayLike, opponents_x: ArrayLike, opponents_end_x: ArrayLike | None = None
) -> NDArray[np.bool_]:
    """Tell which opponents N passes or carries take out: ahead of the ball before, behind it after.

    Parameters
    ----------
    start_x, end_x : (N,) array
        Where the ball starts and ends, in the attacking frame of the side that plays it, m.
    opponents_x : (N, Q) array
        Opponents in the same frame when the ball starts, m; NaN for who is not there.
    opponents_end_x : (N, Q) array, optional
        The same opponents when it ends.  Without, they are taken to stand still.

    Returns
    -------
    (N, Q) bool ndarray
        start_x < opponents_x and opponents_end_x < end_x, both strict; nobody with a ball that does not go
        forward.  An opponent who is unknown at either instant is not counted.

    Notes
    -----
    With the places of the end, an opponent who runs back with a long ball and is goal-side again when it comes down
    is not beaten; counting at the start alone would have him.  How far across the pitch he is does not matter.
    Source: outplayed opponents as in Steiner, Rauh, Rumo, Sonderegger, Seiler 2019, Ger. J. Exerc. Sport Res.
    49:140-149 (opponents a pass puts behind the ball); the second instant is the kit's own.

    >>> opponents_beaten([0.0], [15.0], [[5, 10, 10, 20, 30, 47]]).sum(axis=1).tolist()
    [3]
    """
    start, end = (np.asarray(v, float).reshape(-1, 1) for v in (start_x, end_x))
    before = np.asarray(opponents_x, float)
    after = before if opponents_end_x is None else np.asarray(opponents_end_x, float)
    if before.ndim != 2 or before.shape != after.shape or len(before) != len(start) or len(start) != len(end):
        raise TacticalKitError(
            f"opponents of shape {before.shape} before and {after.shape} after for {len(start)} starts and {len(end)} "
            "ends; expected one row each and the same opponents."
        )
    return np.asarray((start < before) & (after < end) & (start < end))


@dataclass(frozen=True, eq=False)
class LinesPassed:
    """Unit lines that N passes or carries beat; lines in the order back line, midfield line, first line.

    Parameters
    ----------
    passed : (N, 3) bool ndarray
        Whether the line is beaten.
    known : (N,) bool ndarray
        Whether enough opponents were in the data to have lines.
    x : (N, 3) ndarray
        Mean depth of each line when the ball ends, m.
    line : (N, Q) int8 ndarray
        Line of each opponent when the ball starts, -1 none.
    """

    passed: NDArray[np.bool_]
    known: NDArray[np.bool_]
    x: Floats
    line: NDArray[np.int8]


def lines_passed(
    start_x: ArrayLike,
    end_x: ArrayLike,
    opponents_x: ArrayLike,
    opponents_end_x: ArrayLike | None = None,
    lines: UnitLines | None = None,
) -> LinesPassed:
    """Tell which unit lines N passes or carries beat.

    A line is beaten if the ball starts in front of its mean depth and ends beyond it, and takes out at least half
    of the players in it.

    Parameters
    ----------
    start_x, end_x, opponents_x, opponents_end_x
        As for `opponents_beaten`; outfield opponents only.
    lines : UnitLines, optional
        Who stands in which line when the ball starts, and how deep it is then.  Without, it is read off the places
        at that instant alone (`unit_lines`).

    Returns
    -------
    LinesPassed

    Notes
    -----
    The same players make a line when the ball ends.
    Source: line breaks as in FIFA's training centre 2024 (the ball progressed past one or more unit lines: forward,
    midfield, defensive); "mean depth" and "at least half" are common practice, no source.

    >>> block = [[3, 3, 20, 20, 21, 21, 34, 34, 35, 35]]
    >>> lines_passed([0.0], [25.0], block).passed[0].tolist()  # back, midfield, first
    [False, True, True]
    """
    before = np.asarray(opponents_x, float)
    after = before if opponents_end_x is None else np.asarray(opponents_end_x, float)
    start, end = (np.asarray(v, float).reshape(-1) for v in (start_x, end_x))
    out = opponents_beaten(start, end, before, after)
    lines = unit_lines(before) if lines is None else lines
    passed, mean = np.zeros((len(before), 3), bool), np.full((len(before), 3), np.nan)
    for line in range(3):
        there = (lines.line == line) & np.isfinite(after)
        number = there.sum(axis=1)
        mean[:, line] = np.where(number, np.where(there, after, 0.0).sum(axis=1) / np.maximum(number, 1), np.nan)
        half = 2 * (out & there).sum(axis=1) >= number
        passed[:, line] = half & (start < lines.x[:, line]) & (mean[:, line] < end)
    return LinesPassed(passed, np.asarray(np.isfinite(lines.x).all(axis=1)), mean, lines.line)


def beaten_by(
    match: Match, actions: pd.DataFrame, *, over_m: float = 2.0, lines_of: LinesOf | None = None
) -> pd.DataFrame:
    """Tell for every pass or carry of a table how many opponents and which unit lines it beats.

    Parameters
    ----------
    match : Match
        With tracking; without, everything is unknown.
    actions : DataFrame
        Rows of `pass_table` or `carry_table`, or any table with team, x, end_x (attacking frame, m), y, end_y, and
        frame, end_frame (of `match.tracking`, -1 unknown).  All rows are answered, whether the ball arrives or not.
    over_m : float, default 2
        A ball higher than this where it crosses a line goes over it, m.
    lines_of : callable, optional
        Sorts the opponents into lines, given both sides at N instants (`Sides`), the period and time_s of each, and
        the id of the side with the ball; as `partial(opponents_lines, match)` of `tactical_kit.finders.units`, which
        keeps everyone in the line he usually belongs to.  Without, by where they stand when the ball starts.

    Returns
    -------
    DataFrame
        One row an action, index of `actions`, `BEATEN_COLUMNS`: opponents_beaten (outfield players; NaN where a
        frame or an end of the ball is missing), lines_beaten (0 to 3; NaN also with fewer than seven opponents in
        the data), line (the one nearest to the goal attacked that is beaten: "first line", "midfield line", "back
        line", "" none) and how ("through", "around", "over", "" none) with gap_m (between the two players it goes
        through, m; NaN otherwise), first_line, midfield_line and back_line (how each was beaten, "" not), beaten
        (tuple of player ids, the one nearest to the goal attacked last).

    Notes
    -----
    Around: the ball crosses the depth of the line outside its outermost player.  Through: between two of its
    players.  The crossing is looked up in the ball's own path; where that is unknown a straight line at ground
    level is assumed.  Opponents are not counted who are taken out of the game in another way (drawn across, or
    left behind a ball played square).
    Source: see `opponents_beaten` and `lines_passed`; `over_m` is common practice, no source.
    """
    n = len(actions)
    answer: dict[str, NDArray[Any]] = {
        name: np.full(n, np.nan) if dtype == "float64" else np.full(n, "", dtype=object)
        for name, dtype in BEATEN_COLUMNS.items()
    }
    answer["beaten"].fill(())
    place = actions[["x", "end_x", "y", "end_y"]].to_numpy(float)
    frames = actions[["frame", "end_frame"]].to_numpy(np.int64)
    known = np.isfinite(place).all(axis=1) & (frames >= 0).all(axis=1)
    if match.tracking is not None:
        team = actions["team"].to_numpy(object)
        for side in match.teams:
            rows = np.flatnonzero(known & (team == side.team_id))
            if len(rows):
                _answer_side(
                    match, match.tracking, side.team_id, rows, place[rows], frames[rows], over_m, lines_of, answer
                )
    return pd.DataFrame(answer, index=actions.index).astype(BEATEN_COLUMNS)


def _answer_side(
    match: Match,
    tracking: Tracking,
    team: str,
    rows: NDArray[np.int64],
    place: Floats,
    frames: NDArray[np.int64],
    over_m: float,
    lines_of: LinesOf | None,
    answer: dict[str, NDArray[Any]],
) -> None:
    """Fill in the rows of one side."""
    before, after = (sides_at(match, frames[:, i], team) for i in (0, 1))
    ids = np.array(before.other_ids, dtype=object)[~before.other_keeper]
    start_x, end_x = place[:, 0], place[:, 1]
    opponents, opponents_end = before.other_outfield, after.other_outfield
    out = opponents_beaten(start_x, end_x, opponents[..., 0], opponents_end[..., 0])
    at, stand = frames[:, 0], None
    if lines_of is not None:
        stand = lines_of(before, tracking.period[at].astype(np.int64), tracking.time_s[at], team)
    lines = lines_passed(start_x, end_x, opponents[..., 0], opponents_end[..., 0], stand)
    answer["opponents_beaten"][rows] = out.sum(axis=1)
    answer["lines_beaten"][rows] = np.where(lines.known, lines.passed.sum(axis=1), np.nan)
    for i in np.flatnonzero(out.any(axis=1)):
        mine = np.flatnonzero(out[i])
        answer["beaten"][rows[i]] = tuple(ids[mine[np.argsort(opponents_end[i, mine, 0], kind="stable")]])
    sign = {p.number: match.attack_sign(team, p.number) for p in match.periods}
    for i in np.flatnonzero(lines.passed.any(axis=1)):
        a, b = frames[i]
        ball = tracking.ball[a : b + 1] * np.array([1, 1, 0]) * sign[int(tracking.period[a])]
        ball[:, 2] = tracking.ball[a : b + 1, 2]
        for line in (2, 1, 0):  # the one nearest to the goal attacked speaks last
            if not lines.passed[i, line]:
                continue
            y, z = _crossing(ball, lines.x[i, line], place[i])
            here = lines.line[i] == line
            across = np.sort((opponents[i, here, 1] + opponents_end[i, here, 1]) / 2)
            across = across[np.isfinite(across)]
            how, gap = _how(y, z, across, over_m)
            answer[LINE_NAMES[line].replace(" ", "_")][rows[i]] = how
            answer["line"][rows[i]], answer["how"][rows[i]], answer["gap_m"][rows[i]] = LINE_NAMES[line], how, gap


def _crossing(ball: Floats, line_x: float, place: Floats) -> tuple[float, float]:
    """Where the ball passes the depth of a line for good: y and height."""
    short_of = np.flatnonzero(~(ball[:, 0] > line_x))
    k = int(short_of[-1]) + 1 if len(short_of) else 0
    if k < len(ball) and np.isfinite(ball[k, :2]).all():
        return float(ball[k, 1]), float(np.nan_to_num(ball[k, 2]))
    start_x, end_x, start_y, end_y = place
    share = np.clip((line_x - start_x) / (end_x - start_x), 0, 1)
    return float(start_y + share * (end_y - start_y)), 0.0


def _how(y: float, z: float, across: Floats, over_m: float) -> tuple[str, float]:
    """How the ball gets past players at these y, and the width of the gap it goes through."""
    if z > over_m:
        return "over", np.nan
    left = int(np.searchsorted(across, y))
    if 0 < left < len(across):
        return "through", float(across[left] - across[left - 1])
    return "around", np.nan
