"""Each time the ball changes sides in open play: who won it, from whom, where and how."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import aftermath
from tactical_kit.match import Match, remembered
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.passes import pass_table
from tactical_kit.phases import find_possessions

__all__ = ["TURNOVER_COLUMNS", "WON_BY", "aftermath_of", "ball_path", "turnovers"]

WON_BY = ("interception", "tackle", "block", "aerial duel", "loose ball", "keeper", "")
TURNOVER_COLUMNS: dict[str, str] = {
    "period": "int8",
    "time_s": "float64",  # won: under control, or at the tackle or save of who then plays it himself
    "control_s": "float64",  # the winners have it under control, and their possession begins
    "end_s": "float64",  # end of its possession
    "ended": "str",  # lost, out, foul, offside, goal, period-end; "" unknown
    "team": "str",  # the side that won it
    "loser_team": "str",
    "winner": "str",  # player who controls it; "" unknown
    "loser": "str",  # player who had it last; "" unknown
    "won_by": "str",  # one of WON_BY
    "back_s": "float64",  # seconds until the losing side had it again in open play; NaN if play stopped first
    "x": "float64",  # where the ball is then, attacking frame of the winners, m
    "y": "float64",
    "frame": "int64",  # of the tracking; -1 without
    "estimated": "bool",  # read from positions
}
# How the ball was won, by the first touch of the winners since the others last had control.
_WORDS = {
    "interception": "interception",
    "pass": "interception",  # played on at the first touch
    "tackle": "tackle",
    "block": "block",
    "duel": "aerial duel",
    "recovery": "loose ball",
    "carry": "loose ball",
    "take-on": "loose ball",
    "touch": "loose ball",
    "clearance": "loose ball",
    "claim": "keeper",
    "save": "keeper",
}
_ON_BALL = ("pass", "carry", "shot", "take-on", "touch", "interception", "recovery", "claim", "clearance")
_CONTROLS = ("pass", "carry", "shot", "take-on", "interception", "recovery", "claim")
_TOUCHES = (*_ON_BALL, "tackle", "block", "duel", "save")


@remembered
def turnovers(match: Match, *, min_control_s: float = 0.3, soon_s: float = 2.0) -> pd.DataFrame:
    """List each win of the ball in open play, which is a loss for the other side.

    Parameters
    ----------
    match : Match
        With events or tracking.
    min_control_s : float, default 0.3
        A side that has the ball for less than this has only touched it, s; see `find_possessions`.
    soon_s : float, default 2
        A tackle, a block or a duel won the ball if the side has it under control at most this long after it; later it
        was a loose ball.  Who won it shows at most this long after the win, s.

    Returns
    -------
    DataFrame
        `TURNOVER_COLUMNS`, in order of time.

    Notes
    -----
    The instant is when the winners have the ball under control; a ball that is cleared or headed away is theirs
    only then.  Who tackles and plays on himself has it from the tackle on, and a keeper who saves and then plays it
    himself from the save on, though the events name nothing that he did with it until he plays it.  A ball that he
    parries and that another controls is a loose ball.  The place is that of the ball at that instant, or, without
    tracking, of the action by which the winners have it.  A ball that goes out, a foul, an offside is no win in open
    play, and no loss: a goal kick, a throw-in and a free kick begin anew.  A change of sides during a gap in the data
    is left out, as nobody saw it.

    From tracking alone (or with events that do not tell who had the ball) a ball on its way as a pass is an
    interception, one that the loser had on the ball within the last second a tackle: a pass cut off at his feet, or
    a touch that got away from him, is told so, too.
    Source: common practice, no source.
    """
    found = find_possessions(match, min_control_s=min_control_s)
    spells = found.table
    rows = _won_in_sight(spells)
    won = spells.iloc[rows].reset_index(drop=True)
    before = spells["team"].to_numpy(object)[rows - 1]
    period, time_s, team = won["period"].to_numpy(), won["start_s"].to_numpy(), won["team"].to_numpy(object)
    frame = np.full(len(won), -1, np.int64)
    if match.tracking is not None and len(match.tracking):
        frame = match.tracking.indices_at(period, time_s)
    if found.params["source"] == "events":
        winner, loser = _players_from_events(match, won, before, soon_s)
        winner = _first_on_ball(match, won, frame, winner, soon_s)
        time_s, won_by = _first_touch(match, won, winner, soon_s)
    else:
        winner, loser, won_by = _players_from_tracking(match, won, before, frame, soon_s)
    if match.tracking is not None and len(match.tracking):
        frame = match.tracking.indices_at(period, time_s)
    x, y = _places(match, won, time_s, frame)
    end_s = won["end_s"].to_numpy(float).copy()
    answered = np.flatnonzero((rows[1:] == rows[:-1] + 1) & (won["outcome"] == "lost").to_numpy()[:-1])
    end_s[answered] = np.maximum(time_s[answered + 1], time_s[answered])  # lost when the others won it
    back_s = np.where(won["outcome"] == "lost", end_s - time_s, np.nan)
    table = pd.DataFrame(
        {
            "period": period,
            "time_s": time_s,
            "control_s": won["start_s"],
            "end_s": end_s,
            "ended": won["outcome"],
            "team": team,
            "loser_team": before,
            "winner": winner,
            "loser": loser,
            "won_by": won_by,
            "back_s": back_s,
            "x": x,
            "y": y,
            "frame": frame,
            "estimated": won["estimated"],
        }
    )
    return table[list(TURNOVER_COLUMNS)].astype(TURNOVER_COLUMNS)


def aftermath_of(match: Match, won: pd.DataFrame, within_s: float, min_control_s: float) -> pd.DataFrame:
    """Return what came of each win of a table of `turnovers`, as `aftermath` does, in seconds from the win.

    The possession may begin a little later than the win, at `control_s`, and ends when the others win the ball, though
    they have it under control only a little later; a shot may be logged half a second after that.
    """
    time_s, length = won["time_s"].to_numpy(), (won["end_s"] - won["time_s"]).to_numpy()
    begins_s = float((won["control_s"] - won["time_s"]).max()) if len(won) else 0.0
    after = aftermath(
        match, won["period"].to_numpy(), time_s, won["team"].to_numpy(object), within_s, min_control_s, begins_s
    )  # fmt: skip
    for column, late_s in (("third_s", 0.0), ("box_s", 0.0), ("shot_s", 0.5), ("goal_s", 0.5)):
        after[column] = after[column].where(after[column] <= np.minimum(length + late_s, within_s) + 1e-6)
    return after


def ball_path(match: Match, period: int, team: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the instants and x of the ball in one period, in the attacking frame of a side.

    From the tracking; without it, five times a second on straight lines between the places at which the actions of
    both sides begin and, if they succeed, end, and at which the ball goes out.
    """
    sign = match.attack_sign(team, period)
    if match.tracking is not None and len(match.tracking):
        frames = match.tracking.frames_of(period)
        return match.tracking.time_s[frames], match.tracking.ball[frames, 0].astype(float) * sign
    events = match.need_events("The way of the ball")
    mine = events[(events["period"] == period) & events["kind"].isin([*_TOUCHES, "out"])]
    done = mine["success"].fillna(True).astype(bool) & mine["end_s"].notna()
    time_s = np.concatenate([mine["time_s"], mine["end_s"][done]])
    x = np.concatenate([mine["x"], mine["end_x"][done]]) * sign
    known = np.isfinite(time_s) & np.isfinite(x)
    order = np.argsort(time_s[known], kind="stable")
    time_s, x = time_s[known][order], x[known][order]
    if not len(time_s):
        return time_s, x
    grid = np.unique(np.concatenate([np.arange(time_s[0], time_s[-1], 0.2), time_s]))
    return grid, np.interp(grid, time_s, x)


def _won_in_sight(spells: pd.DataFrame) -> NDArray[np.int64]:
    """Rows of the spells that the side won from the other one with no break of play or of the data."""
    if len(spells) < 2:
        return np.zeros(0, np.int64)
    period, team = spells["period"].to_numpy(), spells["team"].to_numpy(object)
    start, end = spells["start_s"].to_numpy(), spells["end_s"].to_numpy()
    won = spells["won_in_play"].to_numpy(bool)[1:] & (spells["outcome"] == "lost").to_numpy()[:-1]
    won &= (period[1:] == period[:-1]) & (team[1:] != team[:-1]) & (np.abs(start[1:] - end[:-1]) < 1e-3)
    return np.flatnonzero(won) + 1


def _players_from_events(
    match: Match, won: pd.DataFrame, before: NDArray[np.object_], soon_s: float
) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Who controls the ball first, and who of the other side had it last."""
    events = match.events
    assert events is not None
    key = events["period"].to_numpy(float) * 1e5 + events["time_s"].to_numpy()
    at = won["period"].to_numpy(float) * 1e5 + won["start_s"].to_numpy()
    names, team = events["player"].to_numpy(object), events["team"].to_numpy(object)
    controls, on_ball = events["kind"].isin(_CONTROLS).to_numpy(), events["kind"].isin(_ON_BALL).to_numpy()
    winner, loser = np.full(len(won), "", object), np.full(len(won), "", object)
    for side in {t.team_id for t in match.teams}:
        for mine, kind, result, later in (
            ((won["team"] == side).to_numpy(), controls, winner, True),
            (before == side, on_ball, loser, False),
        ):
            known = np.flatnonzero(kind & (team == side) & (names != ""))
            rows = np.flatnonzero(mine)
            if not len(known) or not len(rows):
                continue
            if later:
                k = np.searchsorted(key[known], at[rows] - 0.05)
                near = (k < len(known)) & (key[known[np.minimum(k, len(known) - 1)]] <= at[rows] + soon_s)
            else:
                k = np.searchsorted(key[known], at[rows] - 1e-6) - 1
                near = (k >= 0) & (key[known[np.maximum(k, 0)]] >= np.floor(at[rows] / 1e5) * 1e5)
            chosen = known[np.clip(k, 0, len(known) - 1)]
            result[rows[near]] = names[chosen[near]]
    return winner, loser


def _first_on_ball(
    match: Match, won: pd.DataFrame, frame: NDArray[np.int64], winner: NDArray[np.object_], soon_s: float
) -> NDArray[np.object_]:
    """Where the events name nobody soon, the first of the side who has the ball in the tracking."""
    tracking = match.tracking
    if tracking is None or not (winner == "").any():
        return winner
    column = ball_holder(match).column
    reach = round(soon_s * tracking.rate_hz)
    sides = {t.team_id: i for i, t in enumerate(match.teams)}
    for i in np.flatnonzero((winner == "") & (frame >= 0)):
        near = column[frame[i] : frame[i] + reach]
        mine = near[(near >= 0) & (tracking.team_index[np.maximum(near, 0)] == sides[won["team"].iloc[i]])]
        if len(mine):
            winner[i] = tracking.players[mine[0]]
    return winner


def _first_touch(
    match: Match, won: pd.DataFrame, winner: NDArray[np.object_], soon_s: float
) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    """When each ball was won, and how: by the first touch of the side since the others last had it under control.

    At the tackle where the tackler is the one who has it then, at the save where the keeper is, else under control.
    """
    events = match.events
    assert events is not None
    touches = events[events["kind"].isin(_TOUCHES) & (events["team"] != "")]
    key = touches["period"].to_numpy(float) * 1e5 + touches["time_s"].to_numpy()
    kind, team, player = (touches[c].to_numpy(object) for c in ("kind", "team", "player"))
    touch_s, lost = touches["time_s"].to_numpy(), (touches["outcome"] == "lost").to_numpy()
    time_s = won["start_s"].to_numpy(float).copy()
    words = won["began"].map(_WORDS).fillna("").to_numpy(object)
    for i, (began, side) in enumerate(zip(won["began"], won["team"])):
        if began not in ("tackle", "block", "duel", "save", "claim"):
            continue
        at = float(won["period"].iloc[i]) * 1e5 + time_s[i]
        last = int(np.searchsorted(key, at + 1e-6))
        k = last - 1
        while k >= 0 and not (kind[k] == began and team[k] == side and not lost[k]) and key[k] > at - 60.0:
            k -= 1
        if k < 0 or key[k] <= at - 60.0 or kind[k] != began:
            continue
        his = player[k] == winner[i] and winner[i] != ""
        soon = key[k] >= at - soon_s - 1e-6
        if began in ("save", "claim"):
            if not his:
                words[i] = "loose ball"
            elif began == "save" and (player[k:last] == winner[i]).all():  # nobody else touched it in between
                time_s[i] = touch_s[k]
        elif not soon:
            words[i] = "loose ball"
        elif began == "tackle" and his:
            time_s[i] = touch_s[k]
    return time_s, words


def _places(
    match: Match, won: pd.DataFrame, time_s: NDArray[np.float64], frame: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the ball is when it is won, in the attacking frame of the winners."""
    x, y = won["x"].to_numpy(float).copy(), won["y"].to_numpy(float).copy()
    if match.tracking is not None and len(match.tracking):
        sign = match.attack_signs(won["team"].to_numpy(object), won["period"].to_numpy()).astype(float)
        ball = match.tracking.ball[frame, :2].astype(float) * sign[:, None]
        seen = (frame >= 0) & np.isfinite(ball).all(axis=1)
        return np.where(seen, ball[:, 0], x), np.where(seen, ball[:, 1], y)
    events = match.attacking_events
    events = events[events["kind"].isin(_TOUCHES)]
    at = won["period"].to_numpy(float) * 1e5 + time_s
    # The action by which the side has it: one that begins then, or else a header that then reaches a team-mate.
    for when, along, across in (("end_s", "end_x", "end_y"), ("time_s", "x", "y")):
        told = events[events[[when, along, across]].notna().all(axis=1)]
        for side in match.teams:
            mine = told[told["team"] == side.team_id]
            key = mine["period"].to_numpy(float) * 1e5 + mine[when].to_numpy()
            order = np.argsort(key, kind="stable")
            k = np.searchsorted(key[order], at - 0.05)
            found = (k < len(order)) & (won["team"] == side.team_id).to_numpy()
            row = order[np.minimum(k, len(order) - 1)] if len(order) else np.zeros(len(at), np.int64)
            found[found] = key[row[found]] < at[found] + 0.05
            x[found], y[found] = mine[along].to_numpy()[row[found]], mine[across].to_numpy()[row[found]]
    return x, y


def _players_from_tracking(
    match: Match, won: pd.DataFrame, before: NDArray[np.object_], frame: NDArray[np.int64], soon_s: float
) -> tuple[NDArray[np.object_], NDArray[np.object_], NDArray[np.object_]]:
    """The same from who is on the ball; and how it was won, from whether it was on its way as a pass."""
    tracking = match.need_tracking("Who won the ball")
    if match.events is not None:
        match = match.with_data(events=None)  # too few events to tell who has the ball
    column = ball_holder(match).column
    names = np.array(tracking.players, dtype=object)
    held = np.flatnonzero(column >= 0)
    owner = tracking.team_index[column[held]]
    winner, loser, won_by = (np.full(len(won), "", object) for _ in range(3))
    passes = pass_table(match)
    cut_off = passes[~passes["complete"]]
    ends = np.sort(cut_off["period"].to_numpy(float) * 1e5 + cut_off["end_s"].to_numpy())
    reach = round(soon_s * tracking.rate_hz)
    sides = {t.team_id: i for i, t in enumerate(match.teams)}
    for i, (side, other, at) in enumerate(zip(won["team"], before, frame)):
        k = int(np.searchsorted(held, at))
        later = held[k : k + reach][owner[k : k + reach] == sides[side]]
        if len(later) and later[0] - at <= reach:
            winner[i] = names[column[later[0]]]
        earlier = held[max(k - 10 * reach, 0) : k][owner[max(k - 10 * reach, 0) : k] == sides[other]]
        if len(earlier) and tracking.period[earlier[-1]] == tracking.period[at]:
            loser[i] = names[column[earlier[-1]]]
        start = float(won["period"].iloc[i]) * 1e5 + float(won["start_s"].iloc[i])
        n = int(np.searchsorted(ends, start - 0.5))
        if n < len(ends) and ends[n] <= start + 0.5:
            won_by[i] = "interception"
        elif len(earlier) and tracking.time_s[at] - tracking.time_s[earlier[-1]] <= 1.0:
            won_by[i] = "tackle"
        else:
            won_by[i] = "loose ball"
        in_own_box = match.pitch.in_penalty_area(-won["x"].iloc[i], -won["y"].iloc[i])
        if winner[i] and match.players[winner[i]].position == "GK" and in_own_box:
            won_by[i] = "keeper"
    return winner, loser, won_by
