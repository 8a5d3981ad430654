"""Phases of play of both sides at every instant in which the ball is in play."""

from __future__ import annotations

import inspect
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import check_choice
from tactical_kit.match import Match, remembered
from tactical_kit.moments import Moments
from tactical_kit.phases.estimate import estimated_phases, estimated_shape
from tactical_kit.phases.organise import Grid, Shape, make_grid, team_shape
from tactical_kit.phases.possession import possession_spells, without_empty_tracking
from tactical_kit.phases.rules import Thresholds, in_phases, out_phases, set_play_instants
from tactical_kit.phases.words import IN_PHASES, OUT_PHASES

__all__ = ["find_phases", "phase_evidence"]

_CONTROL = ("source", "min_control_s", "contact_m", "contact_s")
_SHAPING = ("first_line_players", "back_line_players", "hunt_m", "hunt_speed_ms", "hunt_own_ms", "hunt_tight_m")
_EXTRAS = {"side": "str", "phase": "str", "estimated": "bool", "possession": "int64"}


@remembered
def find_phases(
    match: Match,
    *,
    source: str = "auto",
    min_control_s: float = 0.5,
    contact_m: float = 1.2,
    contact_s: float = 0.5,
    grid_hz: float = 5.0,
    first_line_players: int = 3,
    back_line_players: int = 4,
    set_play_s: float = 9.0,
    set_play_out_m: float = 45.0,
    free_kick_reach_m: float = 40.0,
    transition_s: float = 10.0,
    transition_least_s: float = 3.0,
    settle_s: float = 3.0,
    settle_gain_m: float = 0.0,
    still_ms: float = 1.8,
    behind_ball_share: float = 0.8,
    standing_share: float = 0.5,
    standing_least_s: float = 2.4,
    build_up_m: float = 39.0,
    build_up_slack_m: float = 6.0,
    final_third_m: float = 34.0,
    final_third_slack_m: float = 9.0,
    counter_press_s: float = 5.0,
    turn_round_s: float = 0.8,
    reaction_s: float = 3.0,
    hunt_m: float = 12.0,
    hunt_speed_ms: float = 2.0,
    hunt_own_ms: float = 1.0,
    hunt_tight_m: float = 2.5,
    hunters_least: float = 1.7,
    hunters_left: float = 1.5,
    block_s: float = 12.0,
    lead_s: float = 1.2,
    press_first_m: float = 69.0,
    press_back_m: float = 40.0,
    press_ball_m: float = 48.0,
    low_back_m: float = 29.0,
    block_slack_m: float = 2.0,
    estimated_low_m: float = 40.0,
    smooth_s: float = 1.0,
    shortest_s: float = 1.0,
) -> Moments:
    """Find what each side is doing at every instant of play: the phase with the ball and the phase without.

    Parameters
    ----------
    match : Match
        With events and tracking; with tracking alone the side with the ball is inferred from who is near it;
        with events alone all phases are estimates (`estimated`).
    source, min_control_s, contact_m, contact_s
        Who has the ball: see `find_possessions`.  A player at most `contact_m` from the ball has it in reach.
    grid_hz : float, default 5
        Instants judged a second; the bounds of spells stay exact to the frame.
    first_line_players, back_line_players : int, default 3 and 4
        The first line is the mean of the foremost three outfield players of the side without the ball, the back
        line that of its deepest four; each is one shorter for each player short of ten, but at least two.
    set_play_s : float, default 9
        A set play lasts less than this long, s.
    set_play_out_m : float, default 45
        From 2 s on it is over as well when the ball is more than this far from the goal line attacked, m
        (kick-offs excepted).
    free_kick_reach_m : float, default 40
        A free kick at most this far from the goal line attacked is a set play, m.
    transition_s, transition_least_s : float, default 10 and 3
        An attacking transition lasts less than 10 s, and at least 3 s while the side keeps the ball.
    settle_s, settle_gain_m : float, default 3 and 0
        It ends when the ball has gained at most 0 m in the last 3 s: played back or square to keep it.
    still_ms : float, default 1.8
        A side runs back while its outfield players move towards their goal at this mean speed or more, m/s.
    behind_ball_share : float, default 0.8
        An attacking transition also ends when the opponents do not run back any more and at least eight in ten
        of them are goal-side of the ball.
    standing_share, standing_least_s, block_s : float, default 0.5, 2.4 and 12
        A defensive transition ends when the side does not run back any more and at least half of it is
        goal-side of the ball, not before 2.4 s and at 12 s at the latest.
    build_up_m, build_up_slack_m : float, default 39 and 6
        The ball is out of the build-up when it is held at least 39 m from the own goal line, and back in
        it when it is held less than 33 m from it.
    final_third_m, final_third_slack_m : float, default 34 and 9
        The final third begins when the ball is held at most 34 m from the goal line attacked, and is left
        when it is held more than 43 m from it.
    counter_press_s : float, default 5
        A counter-press ends less than this long after the loss: the coaches' five seconds, after Bauer & Anzer
        2021 (parameters not verified).
    turn_round_s, reaction_s : float, default 0.8 and 3
        Whether a side counter-presses is judged between these times after the loss, s.
    hunt_m, hunt_speed_ms, hunt_own_ms, hunt_tight_m : float, default 12, 2, 1 and 2.5
        A player hunts the ball who is at most 12 m from it and runs towards it at 2 m/s or more, by at least
        1 m/s faster than his side as a whole moves that way (running back past the ball is not hunting it);
        or who is at most 2.5 m from it.
    hunters_least, hunters_left : float, default 1.7 and 1.5
        A side counter-presses if on average at least 1.7 hunt in that time (two or more for most of it); it
        has given up, or is beaten, when over a second fewer than 1.5 do.
    press_first_m, press_back_m, press_ball_m : float, default 69, 40 and 48
        High press: first line at least 69 m and back line at least 40 m from the own goal, while the ball is held
        less than 48 m from the other side's goal line.
    low_back_m : float, default 29
        Low block: back line less than 29 m from the own goal.
    block_slack_m : float, default 2
        A block is left only when a line is this much beyond its threshold, m.
    estimated_low_m : float, default 40
        From events alone: low block while the ball is held at most this far from the goal line it defends, m.
    lead_s : float, default 1.2
        The heights are those of this much later: the time a side takes to move up or to drop, s.
    smooth_s : float, default 1
        Heights are means over this time, s.
    shortest_s : float, default 1
        Within a spell a phase of less than this is given to the one before it (the first to the one
        after it), s.

    Returns
    -------
    Moments
        Finder "phase".  At every instant of play one row of `side` "in" for the side with the ball and one
        of side "out" for the other; while the ball is dead, or no frame covers the instant, none.  `team`
        is the side described; x, y is the ball at the start, in its attacking frame; `players` is empty.
        Extras: side; phase (`IN_PHASES`, `OUT_PHASES`); estimated (bool: from events alone); possession
        (int: which spell of the match, from 0).  `params` holds every threshold.

    Raises
    ------
    MissingDataError
        Neither events nor tracking, or not what `source` asks for.

    Notes
    -----
    The rules in order, with the ball: a *set play* from its restart until its time is up, it is played out or
    lost; an *attacking transition* from winning the ball in play; then by where the ball is held *build-up*,
    *progression* or *final third*: a pass on its way changes nothing until it is received.  Without the ball: the
    *set play*; a *counter-press* or else a *defensive transition* from the loss; then *high press*, *low
    block* or *mid-block* by the heights of the two lines.

    A side that presses with long, stretched lines but keeps its first line short of the last third counts
    as a mid-block; one that sits deep because the ball is near its goal counts as a low block, as it stands,
    whatever it wants.  With fewer than six outfield players in the data the lines are unknown: the block is
    called mid-block, and transitions end by time (or by settling).  Below 10 Hz the hunt is judged on few instants.
    Events are taken to be in time with the tracking.

    From events alone there are no lines.  A side is said to press high if it makes a defensive action in the
    other side's build-up, to defend low while the ball is held within `estimated_low_m` of its goal line, to
    counter-press if it goes for the ball again within the time of a counter-press; see `phases/estimate.py`.

    The metres suit a pitch of about 105 m and grown players.
    Source: common practice, no source; metres by trial on simulated matches (ACCURACY.md beside this file).
    """
    given = dict(locals())
    match = without_empty_tracking(match)
    judged = _judge(match, given)
    if judged.shape is None:
        return Moments.build("phase", [], _EXTRAS, judged.params, match.match_id)
    parts = [
        _rows(match, judged, judged.having, "in", IN_PHASES),
        _rows(match, judged, judged.lacking, "out", OUT_PHASES),
    ]
    return Moments.build("phase", pd.concat(parts, ignore_index=True), _EXTRAS, judged.params, match.match_id)


def phase_evidence(match: Match, **thresholds: Any) -> pd.DataFrame:
    """Return what the phases were judged by, instant by instant, so that a near miss can be seen.

    Parameters
    ----------
    match : Match
        See `find_phases`.
    **thresholds
        Those of `find_phases`; an unknown one is refused with the list.

    Returns
    -------
    DataFrame
        One row an instant (about five a second): period, time_s, end_s (half-open span it stands for),
        possession, since_s (seconds since the side got the ball), team (with the ball), in_phase, out_phase,
        then the measures of `phases.organise.Shape` in the attacking frame of that team: ball_x, ball_y, held_x,
        first_m, back_m, depth_m, goal_side, retreat_ms, nearest_m, hunters.  NaN from events alone, but for
        the ball.

    Raises
    ------
    UnknownNameError
        A threshold that `find_phases` does not know.
    MissingDataError
        Neither events nor tracking.
    """
    given = {p.name: p.default for p in inspect.signature(find_phases).parameters.values() if p.name != "match"}
    for name in thresholds:
        check_choice("a threshold of the phases", name, given)
    match = without_empty_tracking(match)
    judged = _judge(match, given | thresholds)
    columns = ["period", "time_s", "end_s", "possession", "since_s", "team", "in_phase", "out_phase"]
    measures = [f.name for f in fields(Shape)]
    if judged.shape is None:
        return pd.DataFrame({name: pd.Series([], dtype="float64") for name in [*columns, *measures]})
    spells, grid, shape = judged.spells, judged.grid, judged.shape
    ids = np.array([match.home.team_id, match.away.team_id], dtype=object)
    table = pd.DataFrame(
        {
            "period": spells["period"].to_numpy()[grid.spell],
            "time_s": grid.time_s,
            "end_s": grid.end_s,
            "possession": grid.spell,
            "since_s": grid.since_s,
            "team": ids[spells["side"].to_numpy(np.int64)[grid.spell]],
            "in_phase": np.array(IN_PHASES, dtype=object)[judged.having],
            "out_phase": np.array(OUT_PHASES, dtype=object)[judged.lacking],
        }
    )
    return table.assign(**{name: getattr(shape, name) for name in measures})


@dataclass(frozen=True, eq=False)
class _Judged:
    """Spells, instants and their codes; `shape` is None where the ball is never in play."""

    params: dict[str, object]
    spells: pd.DataFrame
    grid: Grid
    shape: Shape | None
    having: NDArray[np.integer]
    lacking: NDArray[np.integer]


def _judge(match: Match, given: dict[str, Any]) -> _Judged:
    """Judge every instant with the thresholds given by name."""
    thresholds = Thresholds(**{f.name: given[f.name] for f in fields(Thresholds)})
    shaping = {name: given[name] for name in _SHAPING}
    control = {name: given[name] for name in _CONTROL}
    spells, params = possession_spells(match, **control)
    params |= shaping | vars(thresholds)
    grid = make_grid(match, spells, thresholds.grid_hz)
    if not len(spells):
        none = np.zeros(0, np.int8)
        return _Judged(params, spells, grid, None, none, none)
    if match.tracking is not None:
        shape = team_shape(match, spells, grid, contact_m=given["contact_m"], **shaping)
        set_play = set_play_instants(spells, grid, shape, match.pitch, thresholds)
        having = in_phases(spells, grid, shape, match.pitch, set_play, thresholds)
        lacking = out_phases(spells, grid, shape, match.pitch, set_play, thresholds)
    else:
        shape = estimated_shape(match, spells, grid)
        having, lacking = estimated_phases(match, spells, grid, shape, thresholds)
    return _Judged(params, spells, grid, shape, having, lacking)


def _rows(match: Match, judged: _Judged, codes: NDArray[np.integer], side: str, names: tuple[str, ...]) -> pd.DataFrame:
    """One row for each run of the same code within a spell."""
    spells, grid, shape = judged.spells, judged.grid, judged.shape
    assert shape is not None
    ball = np.column_stack([shape.ball_x, shape.ball_y])
    estimated = match.tracking is None
    cut = np.flatnonzero((np.diff(codes) != 0) | (np.diff(grid.spell) != 0)) + 1
    first = np.concatenate(([0], cut))
    last = np.concatenate((cut, [len(codes)])) - 1
    spell = grid.spell[first]
    owner = spells["side"].to_numpy(np.int64)[spell]
    team = owner if side == "in" else 1 - owner
    ids = np.array([match.home.team_id, match.away.team_id], dtype=object)
    # The place is the ball's when the phase starts, turned for the side that the row is about.
    turn = 1.0 if side == "in" else -1.0
    return pd.DataFrame(
        {
            "period": spells["period"].to_numpy()[spell],
            "start_s": grid.time_s[first],
            "end_s": grid.end_s[last],
            "team": ids[team],
            "players": [()] * len(first),
            "x": ball[first, 0] * turn + 0.0,  # + 0.0: no "-0.0" in a table
            "y": ball[first, 1] * turn + 0.0,
            "side": side,
            "phase": np.array(names, dtype=object)[codes[first]],
            "estimated": estimated,
            "possession": spell,
        }
    )
