"""Roads to goal: every goal and shot traced back through its possession, step by step."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.finders.beginnings import first_touches
from tactical_kit.finders.context import index_of
from tactical_kit.finders.registry import finder
from tactical_kit.finders.units import opponents_lines
from tactical_kit.match import Match, remembered
from tactical_kit.measures.ahead import numbers_ahead
from tactical_kit.measures.beaten import beaten_by
from tactical_kit.measures.carries import carry_table
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import find_possessions

__all__ = ["STEP_COLUMNS", "find_roads_to_goal", "road_steps"]

COLUMNS: dict[str, Column] = {
    "outcome": Column("str", "goal, own goal, saved, blocked, off-target or woodwork"),
    "shooter": Column("str", "who shot"),
    "shot_distance_m": Column("float64", "from where he shot to the middle of the goal", "m"),
    "regain": Column("str", "how the possession began: a restart or how the ball was won"),
    "regain_by": Column("str", "who touched the ball first"),
    "start_x": Column("float64", "where it began, along the pitch", "m"),
    "start_y": Column("float64", "where it began, across the pitch", "m"),
    "seconds": Column("float64", "from the beginning to the shot", "s"),
    "steps": Column("int64", "steps of the road, the shot among them"),
    "passes": Column("int64", "passes that arrived"),
    "opponents_beaten": Column("float64", "opponents taken out by passes and carries, summed"),
    "lines_beaten": Column("float64", "unit lines beaten by passes and carries, summed"),
    "space_m": Column("float64", "nearest opponent when he shot", "m"),
    "n_attack": Column("float64", "own players level with the ball or ahead of it at the shot", short="attackers"),
    "n_defend": Column("float64", "outfield opponents goal-side of the ball at the shot", short="defenders"),
    "shot_s": Column("float64", "when he shot, from the kick-off of the half", "s"),
    "estimated": Column("bool", "its beginning, a pass or a carry is read from the tracking alone"),
}
STEP_COLUMNS: dict[str, str] = {
    "step": "int64",  # 1 is the beginning, the last is the shot
    "what": "str",  # regain, pass, carry, take-on, shot, own goal
    "period": "int8",
    "time_s": "float64",
    "end_s": "float64",
    "team": "str",
    "player": "str",
    "receiver": "str",
    "outcome": "str",  # of a pass or shot; how the ball was won
    "x": "float64",  # attacking frame of the side, m
    "y": "float64",
    "end_x": "float64",
    "end_y": "float64",
    "gain_m": "float64",  # towards the goal line attacked
    "opponents_beaten": "float64",
    "lines_beaten": "float64",
    "line": "str",
    "how": "str",
    "space_m": "float64",  # nearest opponent to the player at time_s
    "receiver_space_m": "float64",  # nearest opponent to the receiver at end_s
    "pressure": "float64",  # % on the player at time_s
    "n_attack": "float64",  # numbers ahead of the ball at time_s
    "n_defend": "float64",
    "words": "str",
    "estimated": "bool",  # read from the tracking alone
}
_STEP_KINDS = ("pass", "carry", "take-on", "shot")


@finder(
    "road to goal",
    needs=("events",),
    finds="A goal or a shot with the whole way that led to it, from winning the ball or from the restart.",
    columns=COLUMNS,
)
def find_roads_to_goal(match: Match, *, after_s: float = 2.0) -> Moments:
    """Find every shot and trace it back through its possession.

    Parameters
    ----------
    match : Match
        With events; with tracking the numbers of opponents are known too, and passes or carries that the events do
        not list at all are read from it.
    after_s : float, default 2
        A moment ends this long after the shot, not after the period does, s.  Common practice, no source.

    Returns
    -------
    Moments
        Finder "road to goal", one row a shot of any possession, the shots before it in the same possession being
        among its steps; kicks of a shoot-out, with no way behind them, are left out.  It begins with the
        possession; a shot that belongs to none (a ball struck at once) begins with itself and has `regain` "".
        `regain`, `regain_by`, start_x and start_y are of the first touch, which may be a block or a header a moment
        before a team-mate has control.  `team` is the side whose attack it was, at an own goal the side that it counts
        for.  `players` in the order of their first touch.  x, y: where the shot was taken.

    Raises
    ------
    MissingDataError
        No events.

    Notes
    -----
    The steps behind a moment are handed out by `road_steps`, their pictures by `tactical_kit.show_road`.  Where the
    tracking has a gap the possession begins after it, with `regain` "".  Opponents and lines are summed over the
    steps: who is beaten, runs back and is beaten again counts twice; NaN if a step is not covered by the tracking.
    An own player at most 2 m behind the ball is level with it.
    Source: common practice, no source; opponents and lines beaten see `beaten_by`, numbers see `numbers_ahead`.
    """
    match.need_events("The road to goal")
    goal_x, goal_y = match.pitch.goal
    rows = []
    for _, steps in _all_steps(match).groupby("road", sort=True):
        first, shot = steps.iloc[0], steps.iloc[-1]
        arrived = steps[(steps["what"] == "carry") | ((steps["what"] == "pass") & (steps["outcome"] == "complete"))]
        period, shot_s = int(shot["period"]), float(shot["time_s"])
        rows.append(
            {
                "period": period,
                "start_s": float(first["time_s"]),
                "end_s": max(shot_s, min(shot_s + after_s, match.clock[period].duration_s)),
                "team": shot["team"],
                "players": tuple(dict.fromkeys(p for p in steps["player"] if p)),
                "x": shot["x"],
                "y": shot["y"],
                "outcome": "own goal" if shot["what"] == "own goal" else shot["outcome"],
                "shooter": shot["player"],
                "shot_s": shot_s,
                "shot_distance_m": float(np.hypot(shot["x"] - goal_x, shot["y"] - goal_y)),
                "regain": first["outcome"] if first["what"] == "regain" else "",
                "regain_by": first["player"],
                "start_x": first["x"],
                "start_y": first["y"],
                "seconds": shot_s - float(first["time_s"]),
                "steps": len(steps),
                "passes": int((arrived["what"] == "pass").sum()),
                "opponents_beaten": _total(arrived["opponents_beaten"], match),
                "lines_beaten": _total(arrived["lines_beaten"], match),
                "space_m": shot["space_m"],
                "n_attack": shot["n_attack"],
                "n_defend": shot["n_defend"],
                "estimated": bool(steps["estimated"].any()),
            }
        )
    return Moments.build("road to goal", rows, COLUMNS, {"after_s": after_s}, match.match_id)


def road_steps(match: Match, moment: pd.Series | str) -> pd.DataFrame:
    """Return the steps of one road to goal, from the beginning of the possession to the shot.

    Parameters
    ----------
    match : Match
        With events.
    moment : Series or str
        A row of `find_roads_to_goal(match)` or of `find_shots(match)`, or the id of a road ("road to goal-003").

    Returns
    -------
    DataFrame
        One row a step, `STEP_COLUMNS`.  A step is the beginning ("regain": a restart or how the ball was won), a
        pass, a carry, a take-on or a shot; places in the attacking frame of the side, m.  space_m and
        receiver_space_m are the distances of the nearest opponent, n_attack v n_defend the numbers ahead of the ball
        when the step begins; NaN without tracking.  `words` tells the step in a sentence.

    Raises
    ------
    TacticalKitError
        The moment is no shot of this match.
    """
    if isinstance(moment, str):
        roads = find_roads_to_goal(match).table
        named = roads[roads["moment_id"] == moment]
        if not len(named):
            raise TacticalKitError(
                f"{moment!r} is no road to goal of this match; there are {len(roads)}, from {_example(roads)} on."
            )
        moment = named.iloc[0]
    shot_s = moment.get("shot_s", moment.get("time_s"))
    steps = _all_steps(match)
    if shot_s is not None and len(steps):
        ends = steps.groupby("road").tail(1)
        same = (ends["period"] == moment["period"]) & ((ends["time_s"] - float(shot_s)).abs() < 1e-6)
        player = moment.get("shooter", moment["players"][0] if len(moment["players"]) else "")
        mine = ends[same & (ends["player"] == player)]
        if len(mine):
            road = steps[steps["road"] == mine["road"].iloc[0]]
            return road[list(STEP_COLUMNS)].reset_index(drop=True)
    raise TacticalKitError(
        f"the moment {moment.get('moment_id', '')!r} is no shot of this match; expected a row of find_roads_to_goal or "
        "find_shots."
    )


def _example(roads: pd.DataFrame) -> str:
    return repr(roads["moment_id"].iloc[0]) if len(roads) else "none"


def _total(values: pd.Series, match: Match) -> float:
    """Sum over the steps; NaN where one of them is unknown."""
    known = match.tracking is not None and bool(values.notna().all())
    return float(values.sum()) if known else float("nan")


# -- the steps of all shots ------------------------------------------------------------------------------


_RAW = ("what", "period", "time_s", "end_s", "team", "player", "receiver", "outcome", "x", "y", "end_x", "end_y",
        "estimated")  # fmt: skip


@remembered
def _all_steps(match: Match) -> pd.DataFrame:
    """The steps of every shot, `road` numbering them in order of time."""
    acts = _actions(match)
    period, time_s, team = (acts[c].to_numpy(object if c == "team" else float) for c in ("period", "time_s", "team"))
    spells = find_possessions(match).table
    touches = first_touches(match, spells)
    began: list[dict[str, Any]] = []
    taken: list[NDArray[np.int64]] = []
    shots = np.flatnonzero(acts["what"].isin(["shot", "own goal"]) & (acts["period"] < 5))  # no way led to a shoot-out
    for road, shot in enumerate(shots):
        row = _spell_of(spells, period[shot], time_s[shot], team[shot])
        mine = np.array([shot])
        if row >= 0:
            spell = spells.iloc[row]
            same = (period == period[shot]) & (team == team[shot]) & (time_s >= spell["start_s"] - 1e-6)
            mine = np.append(np.flatnonzero(same[:shot]), shot)
            began.append(_beginning(spell, touches.iloc[row], road))
        taken.append(mine)
    rows = np.concatenate(taken) if taken else np.zeros(0, np.int64)
    roads = np.repeat(np.arange(len(taken)), [len(t) for t in taken])
    done = acts.iloc[rows].assign(road=roads, order=1)
    first = pd.DataFrame(began, columns=["road", "order", *_RAW]).astype(
        {c: done[c].dtype for c in ("road", "order", *_RAW)}
    )
    steps = pd.concat([first, done], ignore_index=True).sort_values(["road", "order"], kind="stable", ignore_index=True)
    steps["step"] = steps.groupby("road").cumcount() + 1
    return _with_positions(match, steps)


def _actions(match: Match) -> pd.DataFrame:
    """The actions that can be steps, for the side whose attack they are part of; passes with end and receiver.

    Passes and carries that the events do not list at all come from the tracking, if there is any.
    """
    events = match.attacking_events
    acts = events[events["kind"].isin(_STEP_KINDS) & (events["team"] != "")].rename(columns={"kind": "what"})
    acts = acts.reset_index(drop=True).assign(estimated=False)
    is_pass = (acts["what"] == "pass").to_numpy()
    acts.loc[~is_pass, "receiver"] = ""
    if is_pass.any():
        passes = pass_table(match)  # the same passes in the same order
        for column in ("end_s", "receiver", "end_x", "end_y"):
            acts.loc[is_pass, column] = passes[column].to_numpy()
        acts.loc[is_pass, "outcome"] = np.where(passes["complete"], "complete", passes["outcome"].to_numpy(object))
    if match.tracking is not None:
        acts = _with_what_is_not_listed(match, acts)
    own = (acts["what"] == "shot") & (acts["detail"] == "own-goal")
    if own.any():  # told in the frame of the side it counts for
        other = {t.team_id: match.opponent(t.team_id).team_id for t in match.teams}
        acts.loc[own, "team"] = acts.loc[own, "team"].map(other)
        acts.loc[own, ["x", "y", "end_x", "end_y"]] *= -1
        acts.loc[own, "what"] = "own goal"
    return acts[list(_RAW)]


def _with_what_is_not_listed(match: Match, acts: pd.DataFrame) -> pd.DataFrame:
    """Add the passes and the carries seen in the tracking where the events name none."""
    more = []
    shots = acts[acts["what"] == "shot"]
    if not (acts["what"] == "pass").any():
        passes = pass_table(match)
        # A shot is seen as a ball that leaves him for an opponent, give or take the clock of the event.
        key, taken = (t["period"].to_numpy() * 1e5 + t["time_s"].to_numpy() for t in (passes, shots))
        is_shot = (np.abs(key[:, None] - taken[None]) <= 0.5) & (
            passes["player"].to_numpy(object)[:, None] == shots["player"].to_numpy(object)[None]
        )
        more.append(passes[passes["complete"] | ~is_shot.any(axis=1)].assign(what="pass"))
    if not (acts["what"] == "carry").any():
        more.append(carry_table(match).assign(what="carry", receiver="", outcome="", detail=""))
    if not more:
        return acts
    columns = [*_RAW, "detail"]
    every = pd.concat([acts[columns], *(m[columns] for m in more)], ignore_index=True)
    return every.astype(acts[columns].dtypes).sort_values(["period", "time_s"], kind="stable", ignore_index=True)


def _spell_of(spells: pd.DataFrame, period: float, time_s: float, team: str) -> int:
    """The possession of the side that the shot belongs to: it lasts at the shot or ended within a second before."""
    mine = np.flatnonzero(
        (spells["period"].to_numpy() == period)
        & (spells["team"].to_numpy(object) == team)
        & (spells["start_s"].to_numpy() <= time_s + 1e-6)
    )
    return int(mine[-1]) if len(mine) and spells["end_s"].to_numpy()[mine[-1]] >= time_s - 1.0 else -1


def _beginning(spell: pd.Series, touch: pd.Series, road: int) -> dict[str, Any]:
    """The first step: how the side came by the ball, and who did."""
    return {
        "road": road, "order": 0, "what": "regain", "period": spell["period"], "time_s": float(spell["start_s"]),
        "end_s": np.nan, "team": spell["team"], "player": touch["player"], "receiver": "", "outcome": touch["began"],
        "x": spell["x"], "y": spell["y"], "end_x": np.nan, "end_y": np.nan, "estimated": bool(spell["estimated"]),
    }  # fmt: skip


# -- what the tracking adds ---------------------------------------------------------------------------------


def _with_positions(match: Match, steps: pd.DataFrame) -> pd.DataFrame:
    """Gain, opponents and lines beaten, space and numbers, and the sentence of each step."""
    tracking = match.tracking
    for column, at in (("frame", "time_s"), ("end_frame", "end_s")):
        steps[column] = -1
        if tracking is not None and len(steps):
            at_s = steps[at].to_numpy(float)
            found = tracking.indices_at(steps["period"].to_numpy(int), np.where(np.isfinite(at_s), at_s, -9.0))
            steps[column] = found
    steps["gain_m"] = (steps["end_x"] - steps["x"]).where(steps["what"].isin(["pass", "carry"])).astype(float)
    arrived = (steps["what"] == "carry") | ((steps["what"] == "pass") & (steps["outcome"] == "complete"))
    played = steps.assign(end_frame=steps["end_frame"].where(arrived, -1))
    beaten = beaten_by(match, played, lines_of=partial(opponents_lines, match))
    for column in ("opponents_beaten", "lines_beaten", "line", "how"):
        steps[column] = beaten[column]
    space, end_space, attack, defend = (np.full(len(steps), np.nan) for _ in range(4))
    team = steps["team"].to_numpy(object)
    for side in match.teams if tracking is not None else ():
        rows = np.flatnonzero(team == side.team_id)
        if not len(rows):
            continue
        now = sides_at(match, steps["frame"].to_numpy()[rows], side.team_id)
        space[rows] = _nearest(now.own_place(steps["player"].to_numpy(object)[rows]), now.other)
        then = sides_at(match, steps["end_frame"].to_numpy()[rows], side.team_id)
        end_space[rows] = _nearest(then.own_place(steps["receiver"].to_numpy(object)[rows]), then.other)
        ball_x = np.where(np.isfinite(now.ball[:, 0]), now.ball[:, 0], steps["x"].to_numpy(float)[rows])
        counts = numbers_ahead(now.own_outfield[:, :, 0], now.other_outfield[:, :, 0], ball_x)
        attack[rows], defend[rows] = counts.attack, counts.defend
    steps["space_m"], steps["receiver_space_m"] = space, end_space
    steps["n_attack"], steps["n_defend"] = attack, defend
    nobody = np.isnan(defend)  # no opponent in the data: none to be beaten that one could tell of
    steps["opponents_beaten"] = steps["opponents_beaten"].mask(nobody)
    actions = index_of(match).actions
    key = ["period", "time_s", "player", "what"]
    told = actions.rename(columns={"kind": "what"})[[*key, "pressure"]].drop_duplicates(key)
    steps["pressure"] = steps[key].merge(told, how="left", on=key)["pressure"].to_numpy(float)
    steps["words"] = [_sentence(match, s) for s in steps.itertuples()]
    return steps[["road", *STEP_COLUMNS]].astype({"road": "int64", **STEP_COLUMNS})


def _nearest(place: NDArray[np.float64], opponents: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance from one place an instant to the nearest opponent, NaN unknown."""
    off = opponents - place[:, None]
    far = np.hypot(off[:, :, 0], off[:, :, 1])
    far = np.where(np.isfinite(far), far, np.inf).min(axis=1, initial=np.inf)
    return np.where(np.isfinite(far), far, np.nan)


def _sentence(match: Match, step: Any) -> str:
    """Tell one step: "Vennerby passes 18 m to Fallowmere, through the midfield line, 3 opponents beaten"."""
    who = _name(match, step.player)
    length = float(np.hypot(step.end_x - step.x, step.end_y - step.y))
    far = f" {length:.0f} m" if np.isfinite(length) else ""
    if step.what == "regain":
        return f"{who}: {step.outcome or 'has the ball'}"
    if step.what == "pass":
        said = f"{who} passes{far}" + (f" to {_name(match, step.receiver)}" if step.receiver else f", {step.outcome}")
    elif step.what == "carry":
        said = f"{who} carries the ball{far}"
    elif step.what == "take-on":
        said = f"{who} takes a man on, {step.outcome or 'outcome unknown'}"
    elif step.what == "own goal":
        said = f"{who}: own goal"
    else:
        said = f"{who} shoots, {step.outcome or 'outcome unknown'}"
    if step.line:
        said += f", {step.how} the {step.line}"
    if step.opponents_beaten >= 1:
        n = int(step.opponents_beaten)
        said += f", {n} opponent{'s' if n > 1 else ''} beaten"
    return said


def _name(match: Match, player: str) -> str:
    return match.players[player].name.split()[-1] if player in match.players else "somebody"
