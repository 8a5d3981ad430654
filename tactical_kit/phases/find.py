"""Phases of play of both sides at every instant in which the ball is in play."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match
from tactical_kit.moments import Moments
from tactical_kit.phases.estimate import estimated_phases, estimated_shape
from tactical_kit.phases.organise import Grid, make_grid, team_shape
from tactical_kit.phases.possession import possession_spells
from tactical_kit.phases.rules import Thresholds, in_phases, out_phases, set_play_instants, standing_block
from tactical_kit.phases.words import IN_PHASES, OUT_PHASES

__all__ = ["find_phases"]

_EXTRAS = {"side": "str", "phase": "str", "estimated": "bool", "possession": "int64"}


def find_phases(
    match: Match,
    *,
    source: str = "auto",
    min_control_s: float = 1.0,
    contact_m: float = 1.5,
    contact_s: float = 0.3,
    grid_hz: float = 5.0,
    first_line_players: int = 2,
    back_line_players: int = 4,
    set_play_s: float = 9.0,
    set_play_out_m: float = 45.0,
    free_kick_reach_m: float = 38.0,
    transition_s: float = 10.0,
    transition_least_s: float = 2.0,
    settle_s: float = 3.0,
    settle_gain_m: float = 2.0,
    retreat_still_ms: float = 1.0,
    behind_ball_share: float = 0.6,
    build_up_edge_m: float = 0.0,
    build_up_beyond_m: float = 10.0,
    final_third_edge_m: float = 0.0,
    edge_slack_m: float = 3.0,
    counter_press_s: float = 5.0,
    reaction_s: float = 1.6,
    hunt_m: float = 12.0,
    hunt_closing_ms: float = 1.0,
    hunt_tight_m: float = 4.0,
    block_s: float = 12.0,
    press_first_m: float = 66.0,
    press_back_m: float = 40.0,
    low_back_m: float = 27.5,
    smooth_s: float = 1.0,
    shortest_s: float = 1.0,
) -> Moments:
    """Find what each side is doing at every instant of play: the phase with the ball and the phase without."""
    given = dict(locals())
    thresholds = Thresholds(**{f.name: given[f.name] for f in fields(Thresholds)})
    spells, params = possession_spells(
        match, source=source, min_control_s=min_control_s, contact_m=contact_m, contact_s=contact_s
    )
    params |= {"first_line_players": first_line_players, "back_line_players": back_line_players}
    params |= vars(thresholds)
    if not len(spells):
        return Moments.build("phase", [], _EXTRAS, params, match.match_id)
    grid = make_grid(match, spells, grid_hz)
    if match.tracking is not None and len(match.tracking):
        shape = team_shape(
            match, spells, grid, first_line_players=first_line_players, back_line_players=back_line_players
        )
        set_play = set_play_instants(spells, grid, shape, match.pitch, thresholds)
        block = standing_block(spells, grid, shape, thresholds)
        having = in_phases(spells, grid, shape, match.pitch, set_play, block, thresholds)
        lacking = out_phases(spells, grid, shape, set_play, block, thresholds)
    else:
        shape = estimated_shape(match, spells, grid)
        having, lacking = estimated_phases(match, spells, grid, shape, thresholds)
    estimated = np.full(len(spells), match.tracking is None or not len(match.tracking))
    ball = np.column_stack([shape.ball_x, shape.ball_y])
    parts = [
        _rows(match, spells, grid, ball, having, "in", IN_PHASES, estimated),
        _rows(match, spells, grid, ball, lacking, "out", OUT_PHASES, estimated),
    ]
    return Moments.build("phase", pd.concat(parts, ignore_index=True), _EXTRAS, params, match.match_id)


def _rows(
    match: Match, spells: pd.DataFrame, grid: Grid, ball: NDArray[np.float64], codes: NDArray[np.integer], side: str,
    names: tuple[str, ...], estimated: NDArray[np.bool_],
) -> pd.DataFrame:  # fmt: skip
    """One row for each run of the same code within a spell."""
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
            "estimated": estimated[spell],
            "possession": spell,
        }
    )
