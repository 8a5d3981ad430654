"""What most finders ask of a match, worked out once: phases, index, spells, and what came of a moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.match import Match, remembered
from tactical_kit.measures.index import MatchIndex, index_match
from tactical_kit.measures.instants import side_codes
from tactical_kit.phases import find_phases, find_possessions

__all__ = ["AFTERMATH_COLUMNS", "aftermath", "index_of", "next_actions", "phase_at", "possession_at"]

AFTERMATH_COLUMNS = ("kept_s", "ended", "third_s", "box_s", "shot_s", "goal_s", "furthest_x")


@remembered
def index_of(match: Match) -> MatchIndex:
    """Return the match with its phases, prepared for questions; see `index_match`."""
    return index_match(match, find_phases(match))


def phase_at(match: Match, period: ArrayLike, time_s: ArrayLike, team: str) -> NDArray[np.object_]:
    """Return the phase one side is in at N instants, in or out of possession; "" while the ball is dead."""
    table = find_phases(match).table
    return _span_value(table[table["team"] == team], period, time_s, "phase", "")


def possession_at(match: Match, period: ArrayLike, time_s: ArrayLike) -> NDArray[np.int64]:
    """Return the row of `find_possessions(match).table` that N instants fall in, -1 for none."""
    table = find_possessions(match).table
    return _span_value(table.assign(row=np.arange(len(table))), period, time_s, "row", -1).astype(np.int64)


def _span_value(
    table: pd.DataFrame, period: ArrayLike, time_s: ArrayLike, column: str, nothing: object
) -> NDArray[np.object_]:
    """Value of the span [start_s, end_s) that each instant falls in; the spans of a table do not overlap."""
    asked_period, asked = np.atleast_1d(np.asarray(period)), np.atleast_1d(np.asarray(time_s, float)) + 1e-6
    result = np.full(len(asked), nothing, dtype=object)
    for number in np.unique(asked_period):
        spans = table[table["period"] == number]
        mine = np.flatnonzero(asked_period == number)
        row = np.searchsorted(spans["start_s"].to_numpy(), asked[mine], side="right") - 1
        inside = (row >= 0) & (asked[mine] < np.append(spans["end_s"].to_numpy(), -np.inf)[row])
        result[mine[inside]] = spans[column].to_numpy(object)[row[inside]]
    return result


def aftermath(
    match: Match,
    period: ArrayLike,
    time_s: ArrayLike,
    team: ArrayLike,
    within_s: float = 60.0,
    min_control_s: float = 0.5,
    begins_s: float = 1.0,
) -> pd.DataFrame:
    """Tell what came of N instants in which a side had the ball, until that possession ended.

    Parameters
    ----------
    match : Match
        With events or tracking.
    period, time_s, team : (N,) array
        When, and the id of the side with the ball.
    within_s : float, default 60
        What happens later than this does not count, s.
    min_control_s : float, default 0.5
        A side that has the ball for less than this has only touched it, s; see `find_possessions`.
    begins_s : float, default 1
        The possession is that of the side at the instant, or the next one if it begins at most this long after it, s.

    Returns
    -------
    DataFrame
        One row an instant, seconds after it, NaN if it did not come to that: kept_s (how long the side kept
        the ball), ended ("lost", "out", "foul", "offside", "goal", "own goal" (put into its own net), "period-end",
        ""; "" too where no possession of the side is found), third_s (ball in the attacking third), box_s (ball in the
        penalty area), shot_s, goal_s (NaN without events; own goals of the opponents are among the goals, not among
        the shots), furthest_x (nearest the ball came to the attacked goal line, as x in the
        attacking frame, m).

    Notes
    -----
    The place of the ball is the tracking's, or the places of the side's actions where there is none. Source: common
    practice, no source.
    """
    period, team = np.atleast_1d(np.asarray(period)), np.atleast_1d(np.asarray(team, dtype=object))
    time_s = np.atleast_1d(np.asarray(time_s, float))
    numbers = {name: np.full(len(period), np.nan) for name in AFTERMATH_COLUMNS if name != "ended"}
    ended = np.full(len(period), "", dtype=object)
    spells = find_possessions(match, min_control_s=min_control_s).table
    shots, goals = _shots(match), _goals(match)
    outcomes = spells["outcome"].to_numpy(object)
    for number, name in {(int(p), str(t)) for p, t in zip(period, team)}:
        asked = np.flatnonzero((period == number) & (team == name))
        own = np.flatnonzero((spells["period"] == number) & (spells["team"] == name))
        starts, ends = spells["start_s"].to_numpy()[own], spells["end_s"].to_numpy()[own]
        path = _ball_path(match, number, name)
        shot_s, goal_s, against_s = (
            rows.loc[(rows["period"] == number) & (rows["team"] == side), "time_s"].to_numpy()
            for rows, side in ((shots, name), (goals, name), (goals, match.opponent(name).team_id))
        )
        for i, at in zip(asked, time_s[asked]):
            k = int(np.searchsorted(ends, at + 1e-6, side="right"))  # the first spell that ends later
            if k == len(own) or starts[k] > at + begins_s + 1e-6:
                continue
            end = min(ends[k], at + within_s)
            numbers["kept_s"][i] = max(0.0, end - at)
            ended[i] = outcomes[own[k]] if end == ends[k] else ""
            if ended[i] == "goal" and np.isfinite(_first_after(against_s, starts[k], end + 0.5)):
                ended[i] = "own goal"
            first, last = np.searchsorted(path.time_s, [at - 1e-6, end])
            if last > first:
                numbers["furthest_x"][i] = path.high[first:last].max()
            for column, marks in (("third_s", path.in_third), ("box_s", path.in_box)):
                numbers[column][i] = _first_after(marks, at, end) - at
            # A shot may end the possession a moment before its own event.
            numbers["shot_s"][i] = _first_after(shot_s, at, end + 0.5) - at
            numbers["goal_s"][i] = _first_after(goal_s, at, end + 0.5) - at
    return pd.DataFrame({c: ended if c == "ended" else numbers[c] for c in AFTERMATH_COLUMNS})


def _shots(match: Match) -> pd.DataFrame:
    columns = ["period", "time_s", "team"]
    if match.events is None:
        return pd.DataFrame({c: [] for c in columns})
    return match.events.loc[(match.events["kind"] == "shot") & (match.events["detail"] != "own-goal"), columns]


def _goals(match: Match) -> pd.DataFrame:
    """Each goal with the side it counts for."""
    if match.events is None:
        return _shots(match)
    goals = match.events[(match.events["kind"] == "shot") & (match.events["outcome"] == "goal")]
    home, away = (t.team_id for t in match.teams)
    other = goals["team"].map({home: away, away: home})
    return goals.assign(team=goals["team"].where(goals["detail"] != "own-goal", other))[["period", "time_s", "team"]]


def _first_after(instants: NDArray[np.float64], start_s: float, end_s: float) -> float:
    """Return the first of some sorted instants in [start_s, end_s], NaN if none is."""
    k = int(np.searchsorted(instants, start_s - 1e-6))
    return float(instants[k]) if k < len(instants) and instants[k] <= end_s else np.nan


@dataclass(frozen=True, eq=False)
class _Path:
    """The ball in one period, in the attacking frame of one side."""

    time_s: NDArray[np.float64]
    high: NDArray[np.float64]  # x, -inf where unknown
    in_third: NDArray[np.float64]  # instants in which it is there
    in_box: NDArray[np.float64]


def _ball_path(match: Match, period: int, team: str) -> _Path:
    """From the tracking, or from the side's own actions where there is none."""
    if match.tracking is not None:
        frames = match.tracking.frames_of(period)
        ball = match.tracking.ball[frames, :2].astype(float) * match.attack_sign(team, period)
        at, x, y = match.tracking.time_s[frames], ball[:, 0], ball[:, 1]
    else:
        events = match.attacking_events
        mine = events[(events["period"] == period) & (events["team"] == team)]
        done = mine["success"].fillna(True).astype(bool)
        at = np.concatenate([mine["time_s"], mine["end_s"].fillna(mine["time_s"])[done]])
        x, y = (np.concatenate([mine[c], mine[f"end_{c}"][done]]) for c in ("x", "y"))
        order = np.argsort(at, kind="stable")
        at, x, y = at[order], x[order], y[order]
    third = x >= match.pitch.third_edges[-2]
    return _Path(at, np.where(np.isfinite(x), x, -np.inf), at[third], at[match.pitch.in_penalty_area(x, y)])


def next_actions(
    match: Match,
    period: ArrayLike,
    time_s: ArrayLike,
    player: ArrayLike,
    *,
    forward_m: float = 2.0,
    carry_m: float = 6.0,
) -> NDArray[np.object_]:
    """Name what N players did next with the ball after receiving it.

    Parameters
    ----------
    match : Match
        With events; without, or with too few of them to tell who had the ball, every answer is "".
    period, time_s, player : (N,) array
        When the player got the ball, and his id.
    forward_m : float, default 2
        A pass or carry that gains at least this much goes forward, m.
    carry_m : float, default 6
        A carry shorter than this is control of the ball; what follows it is the next action, m.

    Returns
    -------
    (N,) object ndarray of str
        "forward pass", "cross", "square or back pass", "forward carry", "carry", "take-on", "shot", "foul won",
        "clearance", "lost" (the opponents have the next action), or "" when play stopped, when a team-mate has the
        next action, or when nothing is known, the player among it.

    Notes
    -----
    A touch that is no pass is looked through: what follows it counts.  The clocks of events differ by a frame, so that
    his own action counts from a twentieth of a second before the instant on; what others did with the ball up to the
    instant itself is how it came to him.
    """
    period, player = np.atleast_1d(np.asarray(period)), np.atleast_1d(np.asarray(player, dtype=object))
    time_s = np.atleast_1d(np.asarray(time_s, float))
    result = np.full(len(period), "", dtype=object)
    if match.events is None:
        return result
    if find_possessions(match).params["source"] != "events":
        return result
    actions = index_of(match).actions
    at = actions["time_s"].to_numpy()
    key = actions["period"].to_numpy(float) * 1e5 + at
    side = side_codes(actions["team"], match)
    who, kind, restart = (actions[c].to_numpy(object) for c in ("player", "kind", "set_play"))
    for i in np.flatnonzero([p in match.players for p in player]):
        mine = match.team_index(match.players[player[i]].team_id)
        first = int(np.searchsorted(key, period[i] * 1e5 + time_s[i] - 0.05))
        for row in range(first, min(first + 6, len(actions))):
            action = actions.iloc[row]
            if action["period"] != period[i] or (restart[row] and at[row] > time_s[i] + 0.05):
                break  # play stopped
            if who[row] != player[i] and at[row] <= time_s[i] + 1e-6 and kind[row] not in ("tackle", "duel", "foul"):
                continue  # how the ball came to him
            if who[row] == player[i] and kind[row] in _NEXT:
                if kind[row] == "touch":
                    continue
                if kind[row] == "carry" and _length(action) < carry_m:
                    result[i] = "carry"  # unless something follows
                    continue
                result[i] = _words_of(action, forward_m)
                break
            if side[row] >= 0 and side[row] != mine:
                result[i] = "foul won" if kind[row] == "foul" else "lost"
                if kind[row] in ("tackle", "duel") and action["outcome"] == "lost":
                    result[i] = ""  # he kept it
                    continue
                break
            if who[row] != player[i] and kind[row] in _NEXT:
                break  # a team-mate plays on: he let it run
    return result


_NEXT = ("pass", "carry", "shot", "take-on", "clearance", "touch")


def _length(action: pd.Series) -> float:
    return float(np.hypot(action["end_x"] - action["x"], action["end_y"] - action["y"]))


def _words_of(action: pd.Series, forward_m: float) -> str:
    forward = float(action["end_x"]) - float(action["x"]) >= forward_m
    if action["kind"] == "pass":
        if action["detail"] in ("cross", "cut-back"):
            return "cross"
        return "forward pass" if forward else "square or back pass"
    if action["kind"] == "carry":
        return "forward carry" if forward else "carry"
    return str(action["kind"])
