"""Each time the ball changes sides in open play: who won it, from whom, where and how."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match, remembered
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.passes import pass_table
from tactical_kit.phases import find_possessions

__all__ = ["TURNOVER_COLUMNS", "WON_BY", "ball_path", "turnovers"]

WON_BY = ("interception", "tackle", "block", "aerial duel", "loose ball", "keeper", "")
TURNOVER_COLUMNS: dict[str, str] = {
    "period": "int8",
    "time_s": "float64",  # won: under control, or taken off by a tackler who then plays it himself
    "control_s": "float64",  # the winners have it under control, and their possession begins
    "end_s": "float64",  # end of its possession
    "ended": "str",  # lost, out, foul, offside, goal, period-end; "" unknown
    "team": "str",  # the side that won it
    "loser_team": "str",
    "winner": "str",  # player who controls it; "" unknown
    "loser": "str",  # player who had it last; "" unknown
    "won_by": "str",  # one of WON_BY
    "back_s": "float64",  # seconds until the losing side had it again in open play; NaN if play stopped first
    "x": "float64",  # where it was won, attacking frame of the winners, m
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
_SOON_S = 2.0  # who controls the ball shows within this time


@remembered
def turnovers(match: Match, *, min_control_s: float = 0.3) -> pd.DataFrame:
    """List each win of the ball in open play, which is a loss for the other side.

    Parameters
    ----------
    match : Match
        With events or tracking.
    min_control_s : float, default 0.3
        A side that has the ball for less than this has only touched it, s; see `find_possessions`.

    Returns
    -------
    DataFrame
        `TURNOVER_COLUMNS`, in order of time.

    Notes
    -----
    The instant is when the winners have the ball under control; a ball that is cleared or headed away is theirs
    only then.  Who tackles and plays on himself has it from the tackle on, though the events name nothing that he did
    with it until he plays it.  A ball that goes out, a foul, an offside is no win in open play, and no loss: a goal
    kick, a throw-in and a free kick begin anew.  A change of sides during a gap in the data is left out, as nobody
    saw it.
    Source: common practice, no source.
    """
    spells = find_possessions(match, min_control_s=min_control_s).table
    rows = _won_in_sight(spells)
    won = spells.iloc[rows].reset_index(drop=True)
    before = spells["team"].to_numpy(object)[rows - 1]
    period, time_s, team = won["period"].to_numpy(), won["start_s"].to_numpy(), won["team"].to_numpy(object)
    frame = np.full(len(won), -1, np.int64)
    if match.tracking is not None and len(match.tracking):
        frame = match.tracking.indices_at(period, time_s)
    if match.events is not None and len(match.events):
        winner, loser = _players_from_events(match, won, before)
        winner = _first_on_ball(match, won, frame, winner)
        time_s = _since_the_tackle(match, won, winner)
        won_by = won["began"].map(_WORDS).fillna("").to_numpy(object)
    else:
        winner, loser, won_by = _players_from_tracking(match, won, before, frame)
    if match.tracking is not None and len(match.tracking):
        frame = match.tracking.indices_at(period, time_s)
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
            "x": won["x"],
            "y": won["y"],
            "frame": frame,
            "estimated": won["estimated"],
        }
    )
    return table[list(TURNOVER_COLUMNS)].astype(TURNOVER_COLUMNS)


def ball_path(match: Match, period: int, team: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the instants and x of the ball in one period, in the attacking frame of a side.

    From the tracking; without it, five times a second on straight lines between the places at which the actions of
    both sides begin and, if they succeed, end.
    """
    sign = match.attack_sign(team, period)
    if match.tracking is not None and len(match.tracking):
        frames = match.tracking.frames_of(period)
        return match.tracking.time_s[frames], match.tracking.ball[frames, 0].astype(float) * sign
    events = match.need_events("The way of the ball")
    mine = events[(events["period"] == period) & events["kind"].isin(_ON_BALL)]
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
    match: Match, won: pd.DataFrame, before: NDArray[np.object_]
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
                near = (k < len(known)) & (key[known[np.minimum(k, len(known) - 1)]] <= at[rows] + _SOON_S)
            else:
                k = np.searchsorted(key[known], at[rows] - 1e-6) - 1
                near = (k >= 0) & (key[known[np.maximum(k, 0)]] >= np.floor(at[rows] / 1e5) * 1e5)
            chosen = known[np.clip(k, 0, len(known) - 1)]
            result[rows[near]] = names[chosen[near]]
    return winner, loser


def _first_on_ball(
    match: Match, won: pd.DataFrame, frame: NDArray[np.int64], winner: NDArray[np.object_]
) -> NDArray[np.object_]:
    """Where the events name nobody soon, the first of the side who has the ball in the tracking."""
    tracking = match.tracking
    if tracking is None or not (winner == "").any():
        return winner
    column = ball_holder(match).column
    reach = round(_SOON_S * tracking.rate_hz)
    sides = {t.team_id: i for i, t in enumerate(match.teams)}
    for i in np.flatnonzero((winner == "") & (frame >= 0)):
        near = column[frame[i] : frame[i] + reach]
        mine = near[(near >= 0) & (tracking.team_index[np.maximum(near, 0)] == sides[won["team"].iloc[i]])]
        if len(mine):
            winner[i] = tracking.players[mine[0]]
    return winner


def _since_the_tackle(match: Match, won: pd.DataFrame, winner: NDArray[np.object_]) -> NDArray[np.float64]:
    """When each ball was won: at the tackle where the tackler is the one who has it then, else under control."""
    time_s = won["start_s"].to_numpy(float).copy()
    assert match.events is not None
    tackles = match.events[(match.events["kind"] == "tackle") & (match.events["outcome"] != "lost")]
    key = tackles["period"].to_numpy(float) * 1e5 + tackles["time_s"].to_numpy()
    player = tackles["player"].to_numpy(object)
    for i in np.flatnonzero(won["began"] == "tackle"):
        at = float(won["period"].iloc[i]) * 1e5 + time_s[i]
        k = int(np.searchsorted(key, at + 1e-6)) - 1
        if k >= 0 and key[k] >= at - _SOON_S and player[k] == winner[i]:
            time_s[i] = tackles["time_s"].iloc[k]
    return time_s


def _players_from_tracking(
    match: Match, won: pd.DataFrame, before: NDArray[np.object_], frame: NDArray[np.int64]
) -> tuple[NDArray[np.object_], NDArray[np.object_], NDArray[np.object_]]:
    """The same from who is on the ball; and how it was won, from whether it was on its way as a pass."""
    tracking = match.need_tracking("Who won the ball")
    column = ball_holder(match).column
    names = np.array(tracking.players, dtype=object)
    held = np.flatnonzero(column >= 0)
    owner = tracking.team_index[column[held]]
    winner, loser, won_by = (np.full(len(won), "", object) for _ in range(3))
    passes = pass_table(match)
    cut_off = passes[~passes["complete"]]
    ends = np.sort(cut_off["period"].to_numpy(float) * 1e5 + cut_off["end_s"].to_numpy())
    reach = round(_SOON_S * tracking.rate_hz)
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
