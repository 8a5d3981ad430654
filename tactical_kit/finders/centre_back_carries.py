"""Centre-back carries: a centre-back steps in with the ball; the space he had, who jumped, what it opened."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import next_actions, phase_at
from tactical_kit.finders.registry import finder
from tactical_kit.finders.units import opponents_lines
from tactical_kit.match import Match
from tactical_kit.measures.beaten import beaten_by
from tactical_kit.measures.carries import carry_table
from tactical_kit.measures.centre_backs import centre_backs_of, drawn_opponent, free_space, opened_options
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import Sides, sides_at
from tactical_kit.measures.unit_lines import FIRST, LINE_NAMES, UnitLines
from tactical_kit.moments import Column, Moments

__all__ = ["find_centre_back_carries"]

COLUMNS = {
    "distance_m": Column("float64", "how far he took the ball, straight", "m"),
    "gain_m": Column("float64", "how far towards the goal line", "m"),
    "space_m": Column("float64", "to the nearest opponent when he set off", "m"),
    "space_ahead_m": Column("float64", "to the nearest opponent ahead of him then; nothing if there was none", "m"),
    "opponent_drawn": Column("str", "the opponent who came out to meet him"),
    "drawn_from": Column("str", "the line that opponent left"),
    "option_opened": Column("str", "a team-mate further up who could be found then, and not before"),
    "option_used": Column("boolean", "his next pass went to that team-mate"),
    "into_midfield": Column("boolean", "he ended beyond the opponents' first line"),
    "opponents_beaten": Column("int64", "opponents he left behind the ball"),
    "next_action": Column("str", "what he did with the ball then"),
    "lost": Column("boolean", "he lost it"),
    "phase": Column("str", "phase of the side when he set off"),
    "estimated": Column("bool", "the carry is read from the tracking alone"),
}
_PHASES = ("build-up", "progression", "attacking transition", "")


@finder(
    "centre-back carry",
    needs=("tracking",),
    finds="A centre-back with nobody near him steps in with the ball: his space, who jumped, what it opened.",
    columns=COLUMNS,
)
def find_centre_back_carries(
    match: Match,
    *,
    least_gain_m: float = 7.0,
    straight_share: float = 0.9,
    least_space_m: float = 6.0,
    furthest_start_m: float = 52.5,
    closed_m: float = 3.0,
    reach_m: float = 8.0,
    lane_m: float = 2.0,
    free_m: float = 3.0,
    longest_m: float = 30.0,
    half_angle_deg: float = 30.0,
    within_s: float = 3.0,
) -> Moments:
    """Find every carry of an unopposed centre-back up the pitch out of his own half.

    Parameters
    ----------
    match : Match
        With tracking.  Centre-backs by the squads' positions, or by where they stand (`centre_backs_of`).
    least_gain_m : float, default 7
        He takes the ball at least this far towards the goal line, m.
    straight_share : float, default 0.9
        The gain is at least this share of the distance (within some 25 degrees of straight up the pitch).
    least_space_m : float, default 6
        The nearest opponent is at least this far away when he sets off, m.
    furthest_start_m : float, default 52.5
        He sets off at most this far from his own goal line: half of a pitch of 105 m.
    closed_m, reach_m : float, default 3 and 8
        An opponent is drawn who has come at least 3 m nearer by his own steps and is at most 8 m away in
        the end, m; see `drawn_opponent`.
    lane_m, free_m : float, default 2 and 3
        A team-mate can be found if no opponent is nearer than 2 m to the lane and 3 m to him, and
    longest_m : float, default 30
        if he is at most this far from the ball, m; see `opened_options`.
    half_angle_deg : float, default 30
        Ahead of him is what lies at most this angle to either side of the way straight up the pitch, degrees.
    within_s : float, default 3
        His next pass is one at most so long after the carry, s.

    Returns
    -------
    Moments
        Finder "centre-back carry", from setting off until the end of the carry; players (he,), x, y where he set off.
        Own columns in `COLUMNS`: option_opened is the furthest up where there are several, "" for none; the lines of
        the opponents are those they usually stand in while the block stands, as in "lines beaten";
        into_midfield unknown with fewer than seven opponents in the data; next_action, option_used, lost unknown
        where nothing more of the ball is known.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    Carries begun while the side is in the final third, or in a set play, are no steps into midfield and left out.
    A carry that bends round an opponent may fail the share and be missed.  Source: common practice, no source;
    6 and 7 m were chosen among 5 to 8 m on simulated matches.
    """
    params = {
        "least_gain_m": least_gain_m, "straight_share": straight_share, "least_space_m": least_space_m,
        "furthest_start_m": furthest_start_m, "closed_m": closed_m, "reach_m": reach_m, "lane_m": lane_m,
        "free_m": free_m, "longest_m": longest_m, "half_angle_deg": half_angle_deg, "within_s": within_s,
    }  # fmt: skip
    carries = carry_table(match)
    gain = carries["end_x"] - carries["x"]
    fits = carries["player"].isin(centre_backs_of(match)) & (gain >= least_gain_m - 1e-9)
    fits &= gain >= straight_share * carries["distance_m"] - 1e-9
    fits &= (carries["x"] + match.pitch.half_length <= furthest_start_m + 1e-9) & (carries["frame"] >= 0)
    carries = carries[fits & (carries["end_frame"] >= 0)]
    parts = []
    for team in match.teams:
        mine = carries[carries["team"] == team.team_id].reset_index(drop=True)
        mine["phase"] = phase_at(match, mine["period"], mine["time_s"], team.team_id)
        mine = mine[mine["phase"].isin(_PHASES)].reset_index(drop=True)
        before, after = (sides_at(match, mine[f], team.team_id) for f in ("frame", "end_frame"))
        lines = opponents_lines(match, before, mine["period"], mine["time_s"], team.team_id)
        numbers = _numbers(before, after, lines, mine, params)
        # Without opponents in the data nobody can tell whether he had space: NaN is not at least 6 m.
        parts.append(pd.concat([mine, numbers], axis=1)[numbers["space_m"] >= least_space_m - 1e-9])
    found = pd.concat(parts, ignore_index=True)
    found["gain_m"] = found["end_x"] - found["x"]
    found["opponents_beaten"] = beaten_by(match, found)["opponents_beaten"].fillna(0)
    _add_what_followed(match, found, within_s)
    found["x"], found["y"] = match.pitch.onto(found["x"], found["y"], margin_m=np.inf)
    found["players"] = [(p,) for p in found["player"]]
    found = found.rename(columns={"time_s": "start_s"})
    core = ["period", "start_s", "end_s", "team", "players", "x", "y"]
    return Moments.build("centre-back carry", found[[*core, *COLUMNS]], COLUMNS, params, match.match_id)


def _numbers(
    before: Sides, after: Sides, lines: UnitLines, carries: pd.DataFrame, params: dict[str, float]
) -> pd.DataFrame:
    """Space, the opponent drawn, the option opened and the first line, one row a carry of one side."""
    start, end = (carries[list(c)].to_numpy(float) for c in (("x", "y"), ("end_x", "end_y")))
    # Where the man is not seen, the ball's place stands for him.
    place, place_end = (
        np.where(np.isfinite(s.own_place(carries["player"])), s.own_place(carries["player"]), ball)
        for s, ball in ((before, start), (after, end))
    )
    room = free_space(place, before.other, half_angle_deg=params["half_angle_deg"])
    drawn = drawn_opponent(
        place, place_end, before.other_outfield, after.other_outfield, closed_m=params["closed_m"],
        reach_m=params["reach_m"],
    )  # fmt: skip
    opened = opened_options(
        start, end, before.own_outfield, after.own_outfield, before.other, after.other,
        _outfield_index(before, carries["player"]), lane_m=params["lane_m"], free_m=params["free_m"],
        longest_m=params["longest_m"],
    )  # fmt: skip
    opponents = np.append(np.array(before.other_ids, dtype=object)[~before.other_keeper], "")
    mates = np.append(np.array(before.own_ids, dtype=object)[~before.own_keeper], "")
    row = np.arange(len(carries))
    line = np.where(drawn >= 0, lines.line[row, np.maximum(drawn, 0)], -1)
    furthest = np.where(opened, after.own_outfield[..., 0], -np.inf)
    best = np.where(opened.any(axis=1), furthest.argmax(axis=1), -1)
    return pd.DataFrame(
        {
            "space_m": np.where(np.isfinite(room.nearest_m), room.nearest_m, np.nan),
            "space_ahead_m": np.where(np.isfinite(room.ahead_m), room.ahead_m, np.nan),
            "opponent_drawn": opponents[drawn],
            "drawn_from": np.append(np.array(LINE_NAMES, dtype=object), "")[line],
            "option_opened": mates[best],
            "into_midfield": pd.array(_beyond_first_line(lines.line, after, end[:, 0]), "boolean"),
        }
    )


def _outfield_index(sides: Sides, players: pd.Series) -> NDArray[np.int64]:
    """Position of players among the outfield players of the own side, -1 for a keeper."""
    outfield = np.cumsum(~sides.own_keeper) - 1
    at = sides.own_index(players)
    return np.where((at >= 0) & ~sides.own_keeper[np.maximum(at, 0)], outfield[np.maximum(at, 0)], -1)


def _beyond_first_line(line: NDArray[np.int8], after: Sides, end_x: NDArray[np.float64]) -> list[object]:
    """Whether each carry ends beyond the mean depth of the opponents' first line; NA without lines."""
    x = np.where((line == FIRST) & np.isfinite(after.other_outfield[..., 0]), after.other_outfield[..., 0], np.nan)
    number = np.isfinite(x).sum(axis=1)
    mean = np.nansum(x, axis=1) / np.maximum(number, 1)
    return [pd.NA if n == 0 else bool(e > m) for n, e, m in zip(number, end_x, mean)]


def _add_what_followed(match: Match, found: pd.DataFrame, within_s: float) -> None:
    """Add next_action and lost, and option_used by his first pass at most `within_s` after the carry."""
    found["next_action"] = next_actions(match, found["period"], found["end_s"], found["player"])
    found["lost"] = pd.array([pd.NA if a == "" else a == "lost" for a in found["next_action"]], "boolean")
    passes = pass_table(match)
    used: list[object] = []
    for c in found.itertuples():
        own = (passes["period"] == c.period) & (passes["player"] == c.player)
        # The clocks of a carry and of the pass after it may differ by a little.
        own &= passes["time_s"].between(float(c.end_s) - 0.5, float(c.end_s) + within_s + 1e-9)
        receivers = passes.loc[own, "receiver"].tolist()
        used.append(pd.NA if c.option_opened == "" or not receivers else receivers[0] == c.option_opened)
    found["option_used"] = pd.array(used, "boolean")
