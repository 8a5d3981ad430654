"""The blocks of both sides without the ball: how high, wide, deep and compact they stood, and how fast they shifted."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import index_of
from tactical_kit.finders.phase_runs import phase_runs
from tactical_kit.finders.registry import finder
from tactical_kit.finders.shapes import find_shapes
from tactical_kit.match import Match, remembered
from tactical_kit.measures.block import BLOCK_COLUMNS, block_numbers, shift_speed
from tactical_kit.measures.formation import line_sizes, shape_name
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import OUT_PHASES

__all__ = ["BLOCK_PHASES", "block_series", "find_blocks"]

Floats = NDArray[np.float64]
BLOCK_PHASES = ("high press", "mid-block", "low block")
COLUMNS: dict[str, Column] = {
    "phase": Column("str", 'high press, mid-block or low block; "" for a still'),
    "height_m": Column("float64", "back line from the own goal line", "m"),
    "first_line_m": Column("float64", "first line from the own goal line", "m"),
    "width_m": Column("float64", "between the outermost players", "m"),
    "depth_m": Column("float64", "deepest to foremost outfield player", "m"),
    "gap_back_midfield_m": Column("float64", "back line to midfield line", "m"),
    "gap_midfield_first_m": Column("float64", "midfield line to first line", "m"),
    "compactness_m": Column("float64", "mean distance of the outfield players to their middle", "m"),
    "nearest_five_m": Column("float64", "the same of the five nearest the ball", "m"),
    "hull_m2": Column("float64", "area that the outfield players span", "m2", short="area"),
    "shift_ms": Column("float64", "mean speed of the middle of the block across the pitch", "m/s"),
    "top_shift_ms": Column("float64", "highest speed of the middle across the pitch", "m/s"),
    "shape": Column("str", "shape of the side in this phase at that time of the match, back line first"),
    "stood": Column("str", "players in each line as they stood in this very spell"),
}
_MEANS = tuple(c for c in BLOCK_COLUMNS if c not in ("centre_x", "centre_y"))


@finder(
    "block",
    needs=("tracking or stills",),
    finds="A spell of pressing high or of defending in a block: how high, wide, deep and compact, how fast it shifts.",
    columns=COLUMNS,
)
def find_blocks(
    match: Match,
    *,
    least_s: float = 1.0,
    min_players: int = 7,
    shift_window_s: float = 1.0,
    line_gap_m: float = 6.0,
    bow_m: float = 6.0,
    near_m: float = 3.0,
) -> Moments:
    """Find every spell of a high press, a mid-block or a low block, measured.

    Parameters
    ----------
    match : Match
        With tracking, or with stills alone: then each still in which a player has the ball is a block of the other
        side, its phase "" and its speeds NaN.
    least_s : float, default 1
        Spells shorter than this are left out, s.  Common practice, no source.
    min_players : int, default 7
        Instants with fewer outfield players in the data are not measured; a spell without a measured one is left
        out.
    shift_window_s : float, default 1
        See `shift_speed`.
    line_gap_m, bow_m : float, default 6 and 6
        See `line_sizes`.
    near_m : float, default 3
        Stills: whoever is nearest to the ball and at most this far has it, m.  Common practice, no source.

    Returns
    -------
    Moments
        Finder "block", one row a spell of the phase; `team` is the side without the ball, `players` those of its
        outfield players who are in the data, deepest first on average, x, y the mean middle of the block.  The
        numbers are means over the spell, five times a second (see `block_numbers`).  `shape` is what
        `find_shapes` says of the side in this phase at that time, over minutes; "" where it says nothing.  `stood`
        is read from the mean places in the spell alone (`line_sizes`), so that somebody who steps out for all of a
        short spell counts where he stands; "" with a player who comes or goes.  Of a still both are as they stand.

    Raises
    ------
    MissingDataError
        Neither tracking nor stills.

    Notes
    -----
    Which spells are blocks is what `find_phases` says.  For the numbers instant by instant see `block_series`.
    Source: see `block_numbers`.
    """
    params = {
        "least_s": least_s, "min_players": min_players, "shift_window_s": shift_window_s, "line_gap_m": line_gap_m,
        "bow_m": bow_m, "near_m": near_m,
    }  # fmt: skip
    rows: list[dict[str, object]] = []
    for team in match.teams:
        series = block_series(
            match, team.team_id, min_players=min_players, shift_window_s=shift_window_s, near_m=near_m
        )
        kept = series[series["phase"].isin(["", *BLOCK_PHASES]) & series["height_m"].notna()]
        rows += _rows(match, team.team_id, kept, least_s, line_gap_m, bow_m)
    blocks = pd.DataFrame(rows)
    if match.tracking is not None and rows:
        shapes = find_shapes(match, min_players=min_players, line_gap_m=line_gap_m, bow_m=bow_m)
        blocks = _add_shapes(blocks, shapes.table)
    return Moments.build("block", blocks, COLUMNS, params, match.match_id)


@remembered
def block_series(
    match: Match, team: str, *, min_players: int = 7, shift_window_s: float = 1.0, near_m: float = 3.0
) -> pd.DataFrame:
    """Return how a side stood without the ball, five times a second: the numbers of its block over time.

    Parameters
    ----------
    match : Match
        With tracking or stills.
    team : str
        The side without the ball, by id, name, "home" or "away".
    min_players, shift_window_s, near_m
        As in `find_blocks`.

    Returns
    -------
    DataFrame
        One row an instant in which the side is out of possession, in transition and set plays too: period, time_s,
        frame (of `match.instants`), spell (number of the spell of the phase, -1 for stills), start_s and end_s of
        that spell, phase, the columns of `block_numbers`, and shift_ms (middle of the block across the pitch, m/s).

    Raises
    ------
    MissingDataError
        Neither tracking nor stills.

    Notes
    -----
    Source: see `block_numbers`.
    """
    side = match.team_index(team)
    team = match.teams[side].team_id
    when = _still_instants(match, side, near_m) if match.tracking is None else _out_of_possession(match, side)
    sides = sides_at(match, when["frame"].to_numpy(), team)
    numbers = block_numbers(sides.own_outfield, sides.ball, match.pitch.half_length, min_players=min_players)
    result = pd.concat([when.reset_index(drop=True), numbers], axis=1)
    result["shift_ms"] = np.nan
    spell, shift = result["spell"].to_numpy(), np.full(len(result), np.nan)
    time_s, centre_y = result["time_s"].to_numpy(), result["centre_y"].to_numpy()
    bounds = np.flatnonzero(np.diff(spell)) + 1
    if match.tracking is not None and len(result):
        for rows in np.split(np.arange(len(result)), bounds):
            shift[rows] = shift_speed(time_s[rows], centre_y[rows], shift_window_s)
        result["shift_ms"] = shift
    return result


def _out_of_possession(match: Match, side: int) -> pd.DataFrame:
    """Instants of the index in which the side is without the ball, by spells of one phase without a gap."""
    index = index_of(match)
    frames, runs = index.frames, phase_runs(index, side)
    out = np.isin(frames.phase[:, side], [index.phase_names.index(p) for p in OUT_PHASES])
    spell = runs.run[out]
    return pd.DataFrame(
        {
            "period": frames.period[out],
            "time_s": frames.time_s[out],
            "frame": frames.frame[out],
            "spell": spell,
            "start_s": runs.start_s[spell],
            "end_s": runs.end_s[spell],
            "phase": np.array(index.phase_names, dtype=object)[frames.phase[out, side]],
        }
    )


def _still_instants(match: Match, side: int, near_m: float) -> pd.DataFrame:
    """Stills in which a player of the other side has the ball."""
    if match.instants is None:
        match.need_tracking("A block", "Stills show one, too.")
    stills = match.instants
    assert stills is not None
    far = np.hypot(*np.moveaxis(stills.xy - stills.ball[:, None, :2], 2, 0)).astype(float)
    far[~np.isfinite(far)] = np.inf
    nearest = far.argmin(axis=1) if far.shape[1] else np.zeros(len(far), int)
    rows = np.flatnonzero((far.min(axis=1, initial=np.inf) <= near_m) & (stills.team_index[nearest] == 1 - side))
    return pd.DataFrame(
        {
            "period": stills.period[rows],
            "time_s": stills.time_s[rows],
            "frame": rows,
            "spell": np.full(len(rows), -1),
            "start_s": stills.time_s[rows],
            "end_s": stills.time_s[rows],
            "phase": np.full(len(rows), "", dtype=object),
        }
    )


def _rows(
    match: Match, team: str, series: pd.DataFrame, least_s: float, line_gap_m: float, bow_m: float
) -> list[dict[str, object]]:
    """One row a spell, or a still, from its measured instants."""
    if not len(series):
        return []
    still = match.tracking is None
    number = np.arange(len(series)) if still else series["spell"].to_numpy()
    parts = np.split(np.arange(len(series)), np.flatnonzero(np.diff(number)) + 1)
    if not still:
        lasts = (series["end_s"] - series["start_s"]).to_numpy()
        parts = [rows for rows in parts if lasts[rows[0]] >= least_s - 1e-6]
    sides = sides_at(match, series["frame"].to_numpy(), team)
    ids = [p for p, keeper in zip(sides.own_ids, sides.own_keeper) if not keeper]
    places, values = sides.own_outfield, {c: series[c].to_numpy() for c in series}
    result: list[dict[str, object]] = []
    stood, steady = np.full((len(parts), len(ids), 2), np.nan), np.zeros(len(parts), bool)
    for i, rows in enumerate(parts):
        seen = np.isfinite(places[rows]).all(axis=2)
        stood[i, seen.any(axis=0)] = np.nanmean(places[rows][:, seen.any(axis=0)], axis=0)
        steady[i] = (seen.any(axis=0) == seen.all(axis=0)).all()
        there = np.flatnonzero(seen.any(axis=0))
        there = there[np.argsort(stood[i, there, 0], kind="stable")]
        shift = values["shift_ms"][rows]
        known = np.isfinite(shift).any()
        result.append(
            {
                "period": int(values["period"][rows[0]]),
                "start_s": float(values["start_s"][rows[0]]),
                "end_s": float(values["end_s"][rows[0]]),
                "team": team,
                "players": tuple(ids[p] for p in there),
                "x": float(values["centre_x"][rows].mean()),
                "y": float(values["centre_y"][rows].mean()),
                "phase": str(values["phase"][rows[0]]),
                **{c: _mean_of(values[c][rows]) for c in _MEANS},
                "shift_ms": _mean_of(shift),
                "top_shift_ms": float(np.nanmax(shift)) if known else float("nan"),
            }
        )
    for row, sizes, same in zip(result, line_sizes(stood, line_gap_m=line_gap_m, bow_m=bow_m), steady):
        row["shape"] = row["stood"] = shape_name(sizes) if same else ""
    return result


def _add_shapes(blocks: pd.DataFrame, shapes: pd.DataFrame) -> pd.DataFrame:
    """Put in the shape of the side in the phase of each block at the middle of the block, "" unknown."""
    period, team, phase, middle = (
        blocks["period"].to_numpy(), blocks["team"].to_numpy(object), blocks["phase"].to_numpy(object),
        (blocks["start_s"] + blocks["end_s"]).to_numpy() / 2,
    )  # fmt: skip
    shape = np.full(len(blocks), "", dtype=object)
    for s in shapes.itertuples():
        mine = (period == s.period) & (team == s.team) & (phase == s.phase)
        shape[mine & (s.start_s <= middle) & (middle < s.end_s)] = s.shape
    return blocks.assign(shape=shape)


def _mean_of(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else float("nan")
