"""Transitions to attack: each win of the ball in open play, and what the side made of it."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import next_actions
from tactical_kit.finders.registry import finder
from tactical_kit.finders.turnovers import aftermath_of, ball_path, turnovers
from tactical_kit.match import Match
from tactical_kit.measures.ahead import Ahead, gain_at, numbers_ahead, seconds_to_gain
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import find_phases
from tactical_kit.pitch import CORRIDORS, THIRDS

__all__ = ["COLUMNS", "find_transitions"]

COLUMNS: dict[str, Column] = {
    "won_by": Column("str", "how it was won: interception, tackle, block, aerial duel, loose ball, keeper"),
    "winner": Column("str", "who has the ball under control"),
    "loser": Column("str", "who of the other side had it last"),
    "third": Column("str", "third of the pitch in which it was won"),
    "corridor": Column("str", "corridor in which it was won"),
    "since_loss_s": Column("float64", "since the side had lost it in open play, if play was not stopped since", "s"),
    "loss_third": Column("str", "third of the pitch in which it had lost it; empty without such a loss"),
    "loss_corridor": Column("str", "corridor in which it had lost it; empty without such a loss"),
    "n_attack": Column(
        "float64", "own outfield players level with the ball or ahead of it at the win", short="attackers"
    ),
    "n_defend": Column("float64", "opponents' outfield players goal-side of the ball at the win", short="defenders"),
    "surplus": Column("float64", "attackers less defenders"),
    "n_behind": Column("float64", "own outfield players behind the ball at the win", short="behind the ball"),
    "n_caught": Column(
        "float64", "opponents' outfield players not goal-side of the ball at the win", short="opponents caught"
    ),
    "n_attack_third": Column(
        "float64", "attackers when the ball came into the final third", short="attackers in the third"
    ),
    "n_defend_third": Column(
        "float64", "defenders when the ball came into the final third", short="defenders in the third"
    ),
    "first_action": Column("str", "what the winner did with the ball"),
    "gain_m": Column("float64", "gained up the pitch in the first seconds after the win", "m"),
    "went_forward": Column("boolean", "the side went forward at once; <NA> where the ball is not in the data"),
    "forward_s": Column("float64", "until the ball was clearly further up", "s"),
    "third_s": Column("float64", "until the ball was in the final third", "s"),
    "box_s": Column("float64", "until the ball was in the penalty area", "s"),
    "shot_s": Column("float64", "until the shot", "s"),
    "duration_s": Column("float64", "from the win until the transition was over", "s"),
    "kept_s": Column("float64", "how long the side kept the ball", "s"),
    "outcome": Column("str", "the furthest it came to: goal, shot, box, final third, settled, or how it ended"),
    "estimated": Column("bool", "who had the ball was inferred from positions"),
}
_OUTCOMES = (("goal_s", "goal"), ("shot_s", "shot"), ("box_s", "box"), ("third_s", "final third"))


@finder(
    "transition",
    needs=("events or tracking",),
    finds="A win of the ball in open play: where, how, with what numbers ahead of the ball, and what came of it.",
    columns=COLUMNS,
)
def find_transitions(
    match: Match,
    *,
    min_control_s: float = 0.3,
    judged_s: float = 1.5,
    forward_least_m: float = 0.5,
    gain_s: float = 5.0,
    forward_m: float = 10.0,
    within_s: float = 15.0,
    level_m: float = 2.0,
    soon_s: float = 2.0,
) -> Moments:
    """Find each win of the ball in open play and follow what the side made of it.

    Parameters
    ----------
    match : Match
        With events or tracking; numbers ahead of the ball need tracking, shots and the first action need events.
    min_control_s : float, default 0.3
        A side that has the ball for less than this has only touched it, s; see `find_possessions`.
    judged_s, forward_least_m : float, default 1.5 and 0.5
        The side went forward at once if this long after the win, or when it lost the ball if that was sooner, the
        ball was at least so far further up than where it was won, s and m.  From a keeper's hands it takes `forward_m`:
        he walks a few steps with the ball before he plays it.
    gain_s : float, default 5
        `gain_m` is what the side had gained so long after the win, or when it lost the ball if that was sooner, s.
    forward_m : float, default 10
        `forward_s` is when the ball was first at least this much further up, m.
    within_s : float, default 15
        Final third, box and shot belong to the transition if they come at most this long after the win and without
        losing the ball in between, s.
    level_m : float, default 2
        An own player at most this far behind the ball is level with it, m.
    soon_s : float, default 2
        Who won it, and whether by a tackle, a block or a duel, shows within this time, s; see
        `tactical_kit.finders.turnovers.turnovers`.

    Returns
    -------
    Moments
        Finder "transition"; from the win until the transition was over: the end of the phase "attacking transition",
        or, where the phases know of none, of the possession (`within_s` at most).  team won the ball; players: the
        winner; x, y where it was won.  Columns as in `COLUMNS`; numbers that the data do not give are NaN, words "".

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    Keepers count neither among those who attack nor among those who defend.  A ball that was won and lost again
    before the side could do anything tells little of where it wanted to go: below a second and a half
    `went_forward` is close to a guess.  A counter-attack is a transition with `went_forward`; a side that first keeps
    the ball and then goes forward is not called one.  With events alone the ball is taken to go straight from where it
    is played to where it is received.
    Source: common practice, no source; `forward_least_m` and `judged_s` chosen among a few round values on simulated
    matches.
    """
    params = dict(
        min_control_s=min_control_s, judged_s=judged_s, forward_least_m=forward_least_m, gain_s=gain_s,
        forward_m=forward_m, within_s=within_s, level_m=level_m, soon_s=soon_s,
    )  # fmt: skip
    won = turnovers(match, min_control_s=min_control_s, soon_s=soon_s)
    period, time_s, team = won["period"].to_numpy(), won["time_s"].to_numpy(), won["team"].to_numpy(object)
    after = aftermath_of(match, won, within_s, min_control_s)
    at_once, gain, forward_s = _way_forward(match, won, (judged_s, gain_s), forward_m, within_s)
    at_win = _numbers(match, won["frame"].to_numpy(), team, level_m)
    at_third = _numbers(match, _frames_at(match, period, time_s + after["third_s"].to_numpy()), team, level_m)
    end_s = _end_of_transition(match, won, within_s)
    needed = np.where(won["won_by"] == "keeper", forward_m, forward_least_m)
    with np.errstate(invalid="ignore"):
        went = pd.array(at_once >= needed - 1e-6, "boolean")
    went[~np.isfinite(at_once)] = pd.NA
    x, y = match.pitch.onto(won["x"], won["y"])
    third, corridor = (_named(THIRDS, match.pitch.third_of(x)), _named(CORRIDORS, match.pitch.corridor_of(y)))
    rows = pd.DataFrame(
        {
            "period": period,
            "start_s": time_s,
            "end_s": end_s,
            "team": team,
            "players": [(p,) if p else () for p in won["winner"]],
            "x": x,
            "y": y,
            "won_by": won["won_by"],
            "winner": won["winner"],
            "loser": won["loser"],
            "third": third,
            "corridor": corridor,
            **_loss_before(match, won, x, y),
            "n_attack": at_win.attack,
            "n_defend": at_win.defend,
            "surplus": at_win.attack - at_win.defend,
            "n_behind": at_win.behind,
            "n_caught": at_win.caught,
            "n_attack_third": at_third.attack,
            "n_defend_third": at_third.defend,
            "first_action": next_actions(match, period, time_s, won["winner"].to_numpy(object)),
            "gain_m": gain,
            "went_forward": went,
            "forward_s": forward_s,
            "third_s": after["third_s"],
            "box_s": after["box_s"],
            "shot_s": after["shot_s"],
            "duration_s": end_s - time_s,
            "kept_s": won["end_s"] - won["time_s"],
            "outcome": _outcomes(after, won, within_s),
            "estimated": won["estimated"],
        }
    )
    return Moments.build("transition", rows, COLUMNS, params, match.match_id)


def _loss_before(
    match: Match, won: pd.DataFrame, x: NDArray[np.float64], y: NDArray[np.float64]
) -> dict[str, NDArray[np.generic]]:
    """When the side had lost the ball that it has won back, and where: that win of the others, seen from its side."""
    time_s, end_s, team = won["time_s"].to_numpy(), won["end_s"].to_numpy(), won["team"].to_numpy(object)
    period, lost = won["period"].to_numpy(), (won["ended"] == "lost").to_numpy()
    since, at_x, at_y = np.full((3, len(won)), np.nan)
    back = lost[:-1] & (period[1:] == period[:-1]) & (team[1:] != team[:-1]) & (time_s[1:] <= end_s[:-1] + 1e-6)
    row = np.flatnonzero(back) + 1
    since[row], at_x[row], at_y[row] = time_s[row] - time_s[row - 1], -x[row - 1], -y[row - 1]
    third, corridor = match.pitch.third_of(at_x), match.pitch.corridor_of(at_y)
    return {"since_loss_s": since, "loss_third": _named(THIRDS, third), "loss_corridor": _named(CORRIDORS, corridor)}


def _way_forward(
    match: Match, won: pd.DataFrame, after_s: tuple[float, float], forward_m: float, within_s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Metres gained after each of two times, and seconds until the ball was `forward_m` further up."""
    gains, forward_s = np.full((2, len(won)), np.nan), np.full(len(won), np.nan)
    for number, team in {(int(p), str(t)) for p, t in zip(won["period"], won["team"])}:
        times, x = ball_path(match, number, team)
        for i in np.flatnonzero((won["period"] == number) & (won["team"] == team)):
            start, end = float(won["time_s"].iloc[i]), float(won["end_s"].iloc[i])
            for gain, since in zip(gains, after_s):
                gain[i] = gain_at(times, x, start, min(start + since, end))
            forward_s[i] = seconds_to_gain(times, x, start, forward_m, min(start + within_s, end))
    return gains[0], gains[1], forward_s


def _frames_at(match: Match, period: NDArray[np.int8], time_s: NDArray[np.float64]) -> NDArray[np.int64]:
    frame = np.full(len(period), -1, np.int64)
    known = np.isfinite(time_s)
    if match.tracking is not None and len(match.tracking):
        frame[known] = match.tracking.indices_at(period[known], time_s[known])
    return frame


def _numbers(match: Match, frame: NDArray[np.int64], team: NDArray[np.object_], level_m: float) -> Ahead:
    """Numbers ahead of the ball at one frame for each of several sides; NaN where there is no frame."""
    result = np.full((4, len(frame)), np.nan)
    if match.tracking is not None and len(match.tracking):
        for side in match.teams:
            mine = np.flatnonzero((team == side.team_id) & (frame >= 0))
            sides = sides_at(match, frame[mine], side.team_id)
            counts = numbers_ahead(
                sides.own_outfield[..., 0], sides.other_outfield[..., 0], sides.ball[:, 0], level_m=level_m
            )
            result[:, mine] = np.array(counts)
    return Ahead(*result)


def _end_of_transition(match: Match, won: pd.DataFrame, within_s: float) -> NDArray[np.float64]:
    """End of the attacking transition that the win began; where there is none, of the possession."""
    phases = find_phases(match).table
    phases = phases[phases["phase"] == "attacking transition"]
    ends = np.minimum(won["end_s"].to_numpy(float), won["time_s"].to_numpy() + within_s)
    for number, team in {(int(p), str(t)) for p, t in zip(won["period"], won["team"])}:
        mine = np.flatnonzero((won["period"] == number) & (won["team"] == team))
        spans = phases[(phases["period"] == number) & (phases["team"] == team)]
        start, end = spans["start_s"].to_numpy(), spans["end_s"].to_numpy()
        if not len(start):
            continue
        at = won["control_s"].to_numpy()[mine]
        k = np.searchsorted(start, at + 1e-6, side="right") - 1
        inside = (k >= 0) & (at < end[np.maximum(k, 0)] - 1e-6)
        ends[mine[inside]] = np.minimum(ends[mine[inside]], end[k[inside]])
    return ends


def _outcomes(after: pd.DataFrame, won: pd.DataFrame, within_s: float) -> NDArray[np.object_]:
    """The furthest it came to; else "settled" if the ball was kept, or how the possession ended."""
    kept = (won["end_s"] - won["time_s"]).to_numpy() > within_s
    how = np.where(after["ended"] == "own goal", "own goal", won["ended"].to_numpy(object))
    result = np.where(kept, "settled", how)
    for column, word in reversed(_OUTCOMES):
        result[np.isfinite(after[column].to_numpy())] = word
    return result


def _named(names: tuple[str, ...], codes: NDArray[np.integer]) -> NDArray[np.object_]:
    return np.array([*names, ""], dtype=object)[np.asarray(codes, np.int64)]
