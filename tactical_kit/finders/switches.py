"""Switches of play: the ball moved from one side of the pitch to the other."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import next_actions
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.switching import block_lag_m, nearest_opponent_m, seconds_free
from tactical_kit.moments import Column, Moments

__all__ = ["find_switches"]

COLUMNS = {
    "lateral_m": Column("float64", "how far the ball went across the pitch", "m", short="across"),
    "duration_s": Column("float64", "from the first pass being played until the ball arrives", "s"),
    "passes": Column("int64", "passes it took; 1 is one long ball"),
    "across_ms": Column("float64", "how fast the ball went across", "m/s", short="across at"),
    "forward_m": Column("float64", "how far the ball came towards the goal line meanwhile", "m"),
    "receiver": Column("str", "who got it; nobody if it did not arrive"),
    "receiver_space_m": Column("float64", "nearest opponent to him when he gets it", "m"),
    "receiver_time_s": Column("float64", "until an opponent is upon him or he lets it go", "s"),
    "block_shift_m": Column("float64", "how far the middle of the opponents went with the ball", "m"),
    "shift_lag_m": Column("float64", "how much further across the ball is from their middle than before", "m"),
    "complete": Column("bool", "it arrived"),
    "next_action": Column("str", "what the receiver did with it"),
    "from_side": Column("str", "strong side (the opponents stood shifted to it) or straight across"),
    "to_side": Column("str", "the side it went to, left or right"),
    "estimated": Column("bool", "passes read from the tracking alone"),
}


@finder(
    "switch",
    needs=("events or tracking",),
    finds="The ball moved from one side of the pitch to the other, by one long ball or over several passes.",
    columns=COLUMNS,
)
def find_switches(
    match: Match,
    *,
    lateral_m: float = 25.0,
    wide_m: float = 14.0,
    most_passes: int = 5,
    longest_s: float = 12.0,
    back_m: float = 3.0,
    strong_m: float = 3.0,
    tight_m: float = 2.0,
    longest_time_s: float = 8.0,
) -> Moments:
    """Find every switch of play in open play: one ball across, or passes that take it across one after the other.

    Parameters
    ----------
    match : Match
        With events, with tracking, or both.
    lateral_m : float, default 25
        The ball goes at least this far across, from the first pass to where the last one ends, m.
    wide_m : float, default 14
        It ends at least this far from the middle of the pitch, m; over several passes it also began so far out.
    most_passes : int, default 5
        At most so many passes; 1 finds long balls alone.
    longest_s : float, default 12
        Over several passes: from the first being played to the last arriving at most this long, s.
    back_m : float, default 3
        Over several passes: none goes back across by more than this, m.
    strong_m : float, default 3
        The middle of the opponents (mean of their outfield players) is at least this far over on the side where the
        ball sets out: the strong side, m.
    tight_m : float, default 2
        An opponent this near is upon the receiver, m.
    longest_time_s : float, default 8
        The receiver's time is told up to this, s.

    Returns
    -------
    Moments
        Finder "switch", from the first pass being played until the last arrives; players in the order of the ball;
        x, y where it ends.  Own columns in `COLUMNS`; what only positions show (space, time, shift, `from_side`) is
        NaN or "" without tracking, `next_action` is "" without events.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    The ball crosses the middle of the pitch, or sets out from it.  A long ball that does not arrive counts as far as it
    went, so one blocked at the start is none; over several passes all but the last arrive.  Several passes that include
    a long ball across are that one.  The fewest passes that make a switch are taken.  Restarts and crosses are left
    out.  How far it goes is measured to where it is received: a ball aimed 30 m across is often met on its way.
    The middle of the opponents is unknown with fewer than seven of their outfield players in the data.
    Source: common practice, no source; of 22 to 30 m across, 25 m was taken after trials on simulated matches (seeds
    1100-1119).
    """
    params = {
        "lateral_m": lateral_m, "wide_m": wide_m, "most_passes": most_passes, "longest_s": longest_s,
        "back_m": back_m, "strong_m": strong_m, "tight_m": tight_m, "longest_time_s": longest_time_s,
    }  # fmt: skip
    passes = pass_table(match)
    spans = _spans(passes, lateral_m, wide_m, most_passes, longest_s, back_m)
    if not len(spans):
        return Moments.build("switch", [], COLUMNS, params, match.match_id)
    first, last = passes.iloc[spans[:, 0]].reset_index(drop=True), passes.iloc[spans[:, 1]].reset_index(drop=True)
    seconds, across = last["end_s"] - first["time_s"], (last["end_y"] - first["y"]).abs()
    x, y = match.pitch.onto(last["end_x"], last["end_y"], margin_m=np.inf)
    rows = pd.DataFrame(
        {
            "period": first["period"],
            "start_s": first["time_s"],
            "end_s": last["end_s"],
            "team": first["team"],
            "players": [_in_order(passes.iloc[a : b + 1]) for a, b in spans],
            "x": x,
            "y": y,
            "lateral_m": across,
            "duration_s": seconds,
            "passes": spans[:, 1] - spans[:, 0] + 1,
            "across_ms": np.where(seconds > 0, across / seconds.where(seconds > 0, 1.0), np.nan),
            "forward_m": last["end_x"] - first["x"],
            "receiver": last["receiver"],
            **_positions(match, first, last, strong_m, tight_m, longest_time_s),
            "complete": last["complete"],
            "next_action": np.where(
                last["receiver"] != "", next_actions(match, last["period"], last["end_s"], last["receiver"]), ""
            ),
            "to_side": np.where(last["end_y"] > 0, "left", "right"),
            "estimated": first["estimated"] | last["estimated"],
        }
    )
    return Moments.build("switch", rows, COLUMNS, params, match.match_id)


def _spans(
    passes: pd.DataFrame, lateral_m: float, wide_m: float, most_passes: int, longest_s: float, back_m: float
) -> NDArray[np.int64]:
    """First and last pass of each switch as rows of the table, (S, 2)."""
    y, end_y = passes["y"].to_numpy(), passes["end_y"].to_numpy()
    begins, ends = passes["time_s"].to_numpy(), passes["end_s"].to_numpy()
    # A cross is no switch, however far it flies past everybody.
    open_play = (passes["set_play"].to_numpy(object) == "") & ~passes["detail"].isin(["cross", "cut-back"]).to_numpy()
    arrives = np.abs(end_y) >= wide_m
    long_ball = open_play & arrives & (np.abs(end_y - y) >= lateral_m) & (y * end_y <= 0)
    follows = _follows(passes)
    found = [(int(i), int(i)) for i in np.flatnonzero(long_ball)]
    taken = -1  # the last pass of the switch before
    for j in np.flatnonzero(arrives & open_play & ~long_ball):
        way = np.sign(end_y[j])
        i = int(j)
        while follows[i] and j - i + 1 < most_passes and not long_ball[i - 1] and i - 1 > taken:
            i -= 1
            across = (end_y[j] - y[i]) * way
            forth = (end_y[i : j + 1] - y[i : j + 1]) * way >= -back_m
            if not open_play[i] or ends[j] - begins[i] > longest_s or not forth.all():
                break
            if across >= lateral_m and y[i] * way <= -wide_m:
                found.append((i, int(j)))
                taken = int(j)
                break
    return np.array(sorted(found), np.int64).reshape(-1, 2)


def _follows(passes: pd.DataFrame) -> NDArray[np.bool_]:
    """Passes that go on from the pass before: same side and period, played by the man who got that one."""
    before = passes.shift(1)
    same = (passes["team"] == before["team"]) & (passes["period"] == before["period"])
    got = before["complete"].fillna(False).astype(bool) & (before["receiver"] == passes["player"])
    return np.asarray((same & got).to_numpy(bool))


def _in_order(run: pd.DataFrame) -> tuple[str, ...]:
    names = [*run["player"], run["receiver"].iloc[-1]]
    return tuple(dict.fromkeys(n for n in names if n))


def _positions(
    match: Match, first: pd.DataFrame, last: pd.DataFrame, strong_m: float, tight_m: float, longest_time_s: float
) -> dict[str, NDArray[np.float64] | NDArray[np.object_]]:
    """What only positions show: space and time of the receiver, shift and lag of the block, strong side or not."""
    n = len(first)
    numbers = {
        name: np.full(n, np.nan) for name in ("receiver_space_m", "receiver_time_s", "block_shift_m", "shift_lag_m")
    }
    from_side = np.full(n, "", dtype=object)
    if match.tracking is None:
        return {**numbers, "from_side": from_side}
    for side in match.teams:
        mine = np.flatnonzero((first["team"] == side.team_id).to_numpy())
        begin, end = first.iloc[mine], last.iloc[mine]
        before = sides_at(match, begin["frame"], side.team_id)
        after = sides_at(match, end["end_frame"], side.team_id)
        block, later = _middle_y(before), _middle_y(after)
        got = nearest_opponent_m(after.own_place(end["receiver"]), after.other)
        numbers["receiver_space_m"][mine] = got
        numbers["block_shift_m"][mine], numbers["shift_lag_m"][mine] = block_lag_m(
            block, begin["y"], later, end["end_y"]
        )
        towards = block * np.sign(-end["end_y"].to_numpy())  # how far over on the side the ball left
        from_side[mine] = np.where(towards >= strong_m, "strong side", "straight across")
        from_side[mine[~np.isfinite(towards)]] = ""
    numbers["receiver_time_s"] = seconds_free(
        match, last["end_frame"], last["receiver"], tight_m=tight_m, longest_s=longest_time_s
    )
    return {**numbers, "from_side": from_side}


def _middle_y(sides: Sides) -> NDArray[np.float64]:
    """Mean across the pitch of the opponents' outfield players; NaN with fewer than seven of them."""
    y = sides.other_outfield[..., 1]
    there = np.isfinite(y)
    number = there.sum(axis=1)
    mean = np.where(there, y, 0).sum(axis=1) / np.maximum(number, 1)
    return np.where(number >= 7, mean, np.nan)
