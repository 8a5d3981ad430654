"""Phases from events alone: where the ball is, who acts on it, how fast it goes; always marked as estimated.

Without positions nobody knows where the block stands.  What is said of it here is inferred: a side that makes
defensive actions far from its own goal presses, a side with the ball in front of its box defends low.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.match import Match
from tactical_kit.phases._live import BALL_KINDS
from tactical_kit.phases.organise import Floats, Grid, Shape, last_held
from tactical_kit.phases.rules import (
    IN_CODE,
    OUT_CODE,
    Codes,
    Mask,
    Thresholds,
    hysteresis,
    in_phases,
    merge_short,
    set_play_instants,
)  # fmt: skip

__all__ = ["DEFENSIVE_KINDS", "estimated_phases", "estimated_shape"]

# Actions by which a side without the ball goes for it; the count of passes per defensive action uses the like.
DEFENSIVE_KINDS = ("tackle", "interception", "foul", "duel", "block")


def estimated_shape(match: Match, spells: pd.DataFrame, grid: Grid) -> Shape:
    """Place the ball at each instant on the straight line between the events; all else is unknown (NaN)."""
    events = match.events
    assert events is not None
    n = len(grid)
    x, y = np.full(n, np.nan), np.full(n, np.nan)
    at_event = np.zeros(n, bool)  # between two events the ball is on its way
    acts = events[events["kind"].isin(BALL_KINDS)]
    periods = spells["period"].to_numpy()[grid.spell]
    for number in np.unique(periods):
        part = acts[acts["period"] == number]
        where = np.vstack(
            [part[["time_s", "x", "y"]].to_numpy(float), part[["end_s", "end_x", "end_y"]].to_numpy(float)]
        )
        where = where[np.isfinite(where).all(axis=1)]
        where = where[np.argsort(where[:, 0], kind="stable")]
        if not len(where):
            continue
        here = periods == number
        x[here] = np.interp(grid.time_s[here], where[:, 0], where[:, 1])
        y[here] = np.interp(grid.time_s[here], where[:, 0], where[:, 2])
        at_event[here] = np.diff(np.searchsorted(where[:, 0], grid.time_s[here], "right"), prepend=-1) > 0
    home_attacks = {p.number: p.home_attacks for p in match.periods}
    sign = np.array([home_attacks[p] for p in spells["period"].tolist()], float)
    sign = (sign * np.where(spells["side"] == 0, 1, -1))[grid.spell]
    x, y = x * sign, y * sign
    unknown = np.full(n, np.nan)
    return Shape(x, y, last_held(x, at_event, grid.spell), *([unknown] * 7))


def estimated_phases(
    match: Match, spells: pd.DataFrame, grid: Grid, shape: Shape, t: Thresholds
) -> tuple[Codes, Codes]:
    """Return the codes of the side with the ball and of the side without, each (N,).

    With the ball as with tracking, but the first line is unknown, and a transition lasts until the side settles
    or its time is up.  Without the ball: a counter-press where the side that lost it goes for it again
    within the time of a counter-press (a tackle, interception, duel, block or foul), else a transition as long
    as the other side's; then a high press where it acts on the ball in the other side's build-up, a low
    block while the ball is held within `estimated_low_m` of its goal line, else a mid-block.
    """
    set_play = set_play_instants(spells, grid, shape, match.pitch, t)
    having = in_phases(spells, grid, shape, match.pitch, set_play, t)
    number = len(spells)
    acts_spell, acts_s = _defensive_actions(match, spells)
    start = spells["start_s"].to_numpy(float)
    won = spells["won_in_play"].to_numpy(bool)
    # The last time the losing side went for the ball within the window; the win itself is the other side's act.
    last_hunt = np.full(number, -np.inf)
    after = acts_s - start[acts_spell]
    inside = won[acts_spell] & (after >= 0) & (after <= t.counter_press_s + 1e-6)
    np.maximum.at(last_hunt, acts_spell[inside], after[inside])
    counter = won[grid.spell] & (grid.since_s <= last_hunt[grid.spell]) & (grid.since_s < t.counter_press_s - 1e-6)
    in_transition = having == IN_CODE["attacking transition"]

    edge = match.pitch.half_length - t.estimated_low_m
    low = hysteresis(shape.held_x, edge - t.final_third_slack_m, edge, grid.spell)
    # Engaged in the build-up: the side went for the ball in this spell while it was in its own third.
    building = having == IN_CODE["build-up"]
    engaged = _engaged(spells, grid, building, acts_spell, acts_s)
    high = building & engaged
    codes = np.where(low, OUT_CODE["low block"], OUT_CODE["mid-block"])
    codes = np.where(high, OUT_CODE["high press"], codes)
    codes = np.where(in_transition, OUT_CODE["defensive transition"], codes)
    codes = np.where(counter, OUT_CODE["counter-press"], codes)
    codes = np.where(set_play, OUT_CODE["set play"], codes).astype(np.int8)
    return having, merge_short(codes, grid.spell, grid.end_s - grid.time_s, t.shortest_s)


def _defensive_actions(match: Match, spells: pd.DataFrame) -> tuple[NDArray[np.int64], Floats]:
    """Spell and time of each defensive action that the side without the ball makes during a spell or to end it."""
    events = match.events
    assert events is not None
    acts = events[events["kind"].isin(DEFENSIVE_KINDS) & (events["team"] != "")]
    scale = 1e6
    at = acts["period"].to_numpy() * scale + acts["time_s"].to_numpy()
    starts = spells["period"].to_numpy() * scale + spells["start_s"].to_numpy()
    # An action that wins the ball starts the next spell; it was made in the spell before.
    row = np.searchsorted(starts, at - 1e-3, "left") - 1
    side = np.where(acts["team"] == match.home.team_id, 0, 1)
    known = row >= 0
    ends = spells["period"].to_numpy() * scale + spells["end_s"].to_numpy() + 0.05
    known &= (side != spells["side"].to_numpy()[np.maximum(row, 0)]) & (at <= ends[np.maximum(row, 0)])
    return row[known], acts["time_s"].to_numpy()[known]


def _engaged(spells: pd.DataFrame, grid: Grid, building: Mask, acts_spell: NDArray[np.int64], acts_s: Floats) -> Mask:
    """Instants of spells in which a defensive action falls into the build-up."""
    hit = np.zeros(len(spells), bool)
    bounds = np.searchsorted(grid.spell, np.arange(len(spells) + 1), "left")
    for row, time_s in zip(acts_spell.tolist(), acts_s.tolist()):
        a, b = bounds[row], bounds[row + 1]
        at = a + int(np.searchsorted(grid.time_s[a:b], time_s, "right")) - 1
        if a <= at < b and building[at]:
            hit[row] = True
    return hit[grid.spell]
