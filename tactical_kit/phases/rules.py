"""The rules that turn spells and shapes into phases, instant by instant."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.phases.organise import Floats, Grid, Shape
from tactical_kit.phases.words import IN_PHASES, OUT_PHASES
from tactical_kit.pitch import Pitch

__all__ = ["IN_CODE", "OUT_CODE", "Thresholds", "first_true", "hysteresis", "in_phases", "merge_short", "out_phases",
           "rolling_mean", "set_play_instants"]  # fmt: skip

IN_CODE = {name: code for code, name in enumerate(IN_PHASES)}
OUT_CODE = {name: code for code, name in enumerate(OUT_PHASES)}
Codes = NDArray[np.integer]
Mask = NDArray[np.bool_]
_EDGE = 1e-6  # slack on times: 15.2 - 10.2 is 5.0


@dataclass(frozen=True)
class Thresholds:
    """Every threshold of the phases; `find_phases` documents them and gives the defaults."""

    grid_hz: float
    set_play_s: float
    set_play_out_m: float
    free_kick_reach_m: float
    transition_s: float
    transition_least_s: float
    settle_s: float
    settle_gain_m: float
    still_ms: float
    behind_ball_share: float
    standing_share: float
    standing_least_s: float
    build_up_m: float
    build_up_slack_m: float
    final_third_m: float
    final_third_slack_m: float
    counter_press_s: float
    turn_round_s: float
    reaction_s: float
    hunters_least: float
    hunters_left: float
    block_s: float
    lead_s: float
    press_first_m: float
    press_back_m: float
    press_ball_m: float
    low_back_m: float
    block_slack_m: float
    estimated_low_m: float
    smooth_s: float
    shortest_s: float


def rolling_mean(values: Floats, spell: NDArray[np.int64], half: int) -> Floats:
    """Mean over the instants within `half` steps, never across spells; NaN are left out."""
    n = len(values)
    if not n:
        return values.copy()
    known = np.isfinite(values)
    total = np.concatenate(([0.0], np.cumsum(np.where(known, values, 0.0))))
    count = np.concatenate(([0], np.cumsum(known)))
    first = np.searchsorted(spell, spell, "left")
    last = np.searchsorted(spell, spell, "right")
    a = np.maximum(np.arange(n) - half, first)
    b = np.minimum(np.arange(n) + half + 1, last)
    number = count[b] - count[a]
    return np.where(number > 0, (total[b] - total[a]) / np.maximum(number, 1), np.nan)


def first_true(mask: Mask, spell: NDArray[np.int64], spells: int) -> NDArray[np.int64]:
    """Index of the first True of each spell, one past its last instant where there is none."""
    result = np.searchsorted(spell, np.arange(spells), "right")
    where = np.flatnonzero(mask)[::-1]
    result[spell[where]] = where
    return result


def hysteresis(values: Floats, low: float | Floats, high: float | Floats, spell: NDArray[np.int64]) -> Mask:
    """True from when a value is at least `high` until it is less than `low`; between them it stays as it was.

    A spell that starts between the two starts as the nearer one; an unknown value changes nothing.
    """
    low, high = np.broadcast_to(low, values.shape), np.broadcast_to(high, values.shape)
    mark = np.where(values >= high, 1, np.where(values < low, 0, -1))
    starts = np.diff(spell, prepend=-1) != 0
    mark = np.where(starts & (mark < 0), values >= (low + high) / 2, mark)
    set_at = np.maximum.accumulate(np.where(mark >= 0, np.arange(len(mark)), 0))
    return mark[set_at] == 1


def merge_short(codes: Codes, spell: NDArray[np.int64], length_s: Floats, shortest_s: float) -> Codes:
    """Give a phase of less than `shortest_s` to the phase before it in its spell, or to the one after it.

    The spell's own bounds stay: only switches inside a spell are smoothed.
    """
    codes = codes.copy()
    if len(codes) < 2:
        return codes
    cut = np.flatnonzero((np.diff(codes) != 0) | (np.diff(spell) != 0)) + 1
    starts = np.concatenate(([0], cut))
    lengths = np.add.reduceat(length_s, starts)
    edges = [*starts.tolist(), len(codes)]
    carried = 0.0
    for i, (a, b) in enumerate(itertools.pairwise(edges)):
        total = lengths[i] + carried
        carried = 0.0
        same_before = a > 0 and spell[a - 1] == spell[a]
        same_after = b < len(codes) and spell[b] == spell[a]
        if same_before and codes[a - 1] == codes[a]:
            continue  # joined what was merged before
        if total >= shortest_s - _EDGE:
            continue
        if same_before:
            codes[a:b] = codes[a - 1]
        elif same_after:
            # First of its spell: it takes the name of the next, and counts towards its length.
            codes[a:b] = codes[b]
            carried = total
    return codes


def set_play_instants(spells: pd.DataFrame, grid: Grid, shape: Shape, pitch: Pitch, t: Thresholds) -> Mask:
    """Instants of a set play: a restart that counts, until its time is up or the ball is played back out."""
    began = spells["began"]
    half = pitch.half_length
    to_goal_line = half - spells["x"].to_numpy(float)
    into_box = pitch.in_penalty_area(spells["restart_x"], spells["restart_y"])
    near_goal = began.isin(["corner", "penalty"]).to_numpy(bool, copy=True)
    near_goal |= (began == "free-kick").to_numpy() & (to_goal_line <= t.free_kick_reach_m)
    near_goal |= (began == "throw-in").to_numpy() & into_box
    counts = near_goal | (began == "kick-off").to_numpy()
    active = counts[grid.spell] & (grid.since_s < t.set_play_s - _EDGE)
    out_again = active & near_goal[grid.spell] & (grid.since_s >= 2.0) & (shape.ball_x < half - t.set_play_out_m)
    over = first_true(out_again, grid.spell, len(spells))
    return active & (np.arange(len(grid)) < over[grid.spell])


def standing_block(grid: Grid, shape: Shape, share: float, t: Thresholds) -> Mask:
    """Instants at which the side without the ball has stopped running back and has enough players goal-side."""
    half = max(1, round(0.5 * t.grid_hz))
    retreat = rolling_mean(shape.retreat_ms, grid.spell, half)
    behind = rolling_mean(shape.goal_side, grid.spell, half)
    return (retreat < t.still_ms) & (behind >= share)  # False where it is not known


def in_phases(spells: pd.DataFrame, grid: Grid, shape: Shape, pitch: Pitch, set_play: Mask, t: Thresholds) -> Codes:
    """Return the code of the phase of the side with the ball at each instant, shape (N,)."""
    index = np.arange(len(grid))
    ball = shape.held_x
    edge = t.build_up_m - pitch.half_length
    past = hysteresis(ball, edge - t.build_up_slack_m, edge, grid.spell)
    edge = pitch.half_length - t.final_third_m
    last = hysteresis(ball, edge - t.final_third_slack_m, edge, grid.spell)
    codes = np.where(last, IN_CODE["final third"], np.where(past, IN_CODE["progression"], IN_CODE["build-up"]))

    block = standing_block(grid, shape, t.behind_ball_share, t)
    won = spells["won_in_play"].to_numpy(bool)[grid.spell]
    back = round(t.settle_s * t.grid_hz)
    before = np.maximum(index - back, np.searchsorted(grid.spell, grid.spell, "left"))
    settled = (index - before >= back) & (shape.ball_x - shape.ball_x[before] <= t.settle_gain_m)
    ends = (grid.since_s >= t.transition_least_s - _EDGE) & (settled | block)
    ends |= grid.since_s >= t.transition_s - _EDGE
    over = first_true(won & ends, grid.spell, len(spells))
    codes = np.where(won & (index < over[grid.spell]), IN_CODE["attacking transition"], codes)
    codes = np.where(set_play, IN_CODE["set play"], codes).astype(np.int8)
    return merge_short(codes, grid.spell, grid.end_s - grid.time_s, t.shortest_s)


def out_phases(spells: pd.DataFrame, grid: Grid, shape: Shape, pitch: Pitch, set_play: Mask, t: Thresholds) -> Codes:
    """Return the code of the phase of the side without the ball at each instant, shape (N,)."""
    number, index = len(spells), np.arange(len(grid))
    codes = organised_block(grid, shape, pitch, t)

    lost = spells["won_in_play"].to_numpy(bool)[grid.spell]  # this side lost it as the other won it
    # A moment to turn round; then the hunt is on or it is not.
    judged = lost & (grid.since_s <= t.reaction_s + _EDGE) & np.isfinite(shape.hunters)
    late = judged & (grid.since_s >= t.turn_round_s - _EDGE)
    hunters = np.bincount(grid.spell[late], shape.hunters[late], minlength=number)
    reacts = hunters >= t.hunters_least * np.maximum(np.bincount(grid.spell[late], minlength=number), 1)
    few = rolling_mean(shape.hunters, grid.spell, max(1, round(0.5 * t.grid_hz))) < t.hunters_left
    stop = lost & ((grid.since_s >= t.counter_press_s - _EDGE) | ((grid.since_s >= t.reaction_s - _EDGE) & few))
    counter = lost & reacts[grid.spell] & (index < first_true(stop, grid.spell, number)[grid.spell])

    block = standing_block(grid, shape, t.standing_share, t)
    ends = (grid.since_s >= t.standing_least_s - _EDGE) & block | (grid.since_s >= t.block_s - _EDGE)
    stands = first_true(lost & ~counter & ends, grid.spell, number)
    running_back = lost & ~counter & (index < stands[grid.spell])
    codes = np.where(running_back, OUT_CODE["defensive transition"], codes)
    codes = np.where(counter, OUT_CODE["counter-press"], codes)
    codes = np.where(set_play, OUT_CODE["set play"], codes).astype(np.int8)
    return merge_short(codes, grid.spell, grid.end_s - grid.time_s, t.shortest_s)


def organised_block(grid: Grid, shape: Shape, pitch: Pitch, t: Thresholds) -> NDArray[np.integer]:
    """Code of high press, mid-block or low block by where the two lines stand `lead_s` later."""
    ahead = round(t.lead_s * t.grid_hz)
    last = np.searchsorted(grid.spell, grid.spell, "right") - 1
    then = np.minimum(np.arange(len(grid)) + ahead, last)
    first = rolling_mean(shape.first_m, grid.spell, _half(t))[then]
    back = rolling_mean(shape.back_m, grid.spell, _half(t))[then]
    ball = shape.held_x + pitch.half_length
    slack = t.block_slack_m
    high = hysteresis(first, t.press_first_m - slack, t.press_first_m, grid.spell)
    high &= hysteresis(back, t.press_back_m - slack, t.press_back_m, grid.spell)
    high &= ~hysteresis(ball, t.press_ball_m, t.press_ball_m, grid.spell)
    low = ~hysteresis(back, t.low_back_m, t.low_back_m + slack, grid.spell) & np.isfinite(back)
    return np.where(high, OUT_CODE["high press"], np.where(low, OUT_CODE["low block"], OUT_CODE["mid-block"]))


def _half(t: Thresholds) -> int:
    return max(1, round(t.smooth_s * t.grid_hz / 2))
