"""Possession spells: which side has the ball, from when to when, how it began and how it ended."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import MissingDataError, check_choice
from tactical_kit.match import Match, remembered
from tactical_kit.moments import Moments
from tactical_kit.phases._control import (
    CONTROL_KINDS,
    Run,
    changes_from_events,
    changes_from_owner,
    changes_from_tracking,
)
from tactical_kit.phases._live import live_runs_from_events, live_runs_from_tracking

__all__ = ["ACTION_KINDS", "find_possessions", "possession_spells", "without_empty_tracking"]

ACTION_KINDS = ("pass", "carry", "shot", "take-on", "tackle", "interception", "recovery", "claim")
_EXTRAS = {
    "began": "str",
    "won_in_play": "bool",
    "outcome": "str",
    "passes": "float64",
    "won_back_after_s": "float64",
    "won_back_early": "bool",
    "estimated": "bool",
}


@remembered
def find_possessions(
    match: Match,
    *,
    source: str = "auto",
    min_control_s: float = 0.5,
    contact_m: float = 1.2,
    contact_s: float = 0.5,
    counter_press_s: float = 5.0,
) -> Moments:
    """Find the spells in which one side has the ball, from winning or restarting it until it is lost or dead.

    Parameters
    ----------
    match : Match
        With events, tracking or both.
    source : str, default "auto"
        Where the side with the ball is read: "events", "owner" (the flag of the tracking), "positions" (who
        is near the ball), or "auto": the first of these that the match has.  Beside tracking, "auto" takes the
        events only if they hold at least one action with control for each stretch of play.
    min_control_s : float, default 0.5
        A side that has the ball for less than this between two spells of the other side has only touched
        it, and the other side's spell goes on; a shot counts whatever its length.  Common practice, no source.
    contact_m : float, default 1.2
        Positions only: a player at most this far from the ball can play it, m.  Common practice, no source.
    contact_s : float, default 0.5
        Positions only: a side has won the ball when its players were nearest and in reach for at least this
        long before the other side was again, s.  Common practice, no source.
    counter_press_s : float, default 5.0
        A ball that is back after at most this many seconds was won back early (`won_back_early`).
        Coaches' five-second rule, after Bauer & Anzer 2021 (parameters not verified).

    Returns
    -------
    Moments
        Finder "possession", one row a spell.  `players` acted in it; x, y the first touch that began it
        (control may be gained a little later, at `start_s`, and further on).  Extras:
        began : str
            Restart ("corner", "throw-in"...), or how the ball was won ("interception", "recovery"...), ""
            unknown.
        won_in_play : bool
            Won from the other side without a break of play.
        outcome : str
            "lost", "out", "foul", "offside", "goal", "period-end", "" unknown.
        passes : float
            Passes of the side in the spell, NaN without events.
        won_back_after_s : float
            Spells lost in open play: seconds until this side had the ball again; NaN if play was stopped
            first.
        won_back_early : bool
            `won_back_after_s` at most `counter_press_s`.
        estimated : bool
            True where the side with the ball or the dead ball was inferred: from positions, or, without
            tracking, from the time between events.

    Raises
    ------
    MissingDataError
        Neither events nor tracking, or not what `source` asks for.

    Notes
    -----
    A loose ball, a pass on its way and a cleared ball belong to the side that had control last, until the
    other side has control: it passes, carries, shoots, takes on, intercepts, recovers or claims the ball, or a
    header of its own reaches a team-mate.  Tackles, blocks, clearances, duels and parries alone win no
    possession, so counts are lower than those that change the side at every touch; `began` names the
    first touch of the side since the other side last had control.  Spells tile the time in which the ball is in
    play.
    Source: common practice, no source.
    """
    match = without_empty_tracking(match)
    spells, params = possession_spells(
        match, source=source, min_control_s=min_control_s, contact_m=contact_m, contact_s=contact_s
    )
    params["counter_press_s"] = counter_press_s
    table = spells.copy()
    after = _won_back_after(table)
    table["won_back_after_s"] = after
    # A millionth of a second is no threshold: 15.2 - 10.2 is 5.0.
    table["won_back_early"] = after <= counter_press_s + 1e-6
    table["passes"], table["players"] = _actions_in(match, table)
    table["team"] = np.where(table["side"] == 0, match.home.team_id, match.away.team_id)
    table = table.drop(columns=["side", "continues", "first", "last", "restart_x", "restart_y"])
    return Moments.build("possession", table, _EXTRAS, params, match.match_id)


def possession_spells(
    match: Match, *, source: str = "auto", min_control_s: float, contact_m: float, contact_s: float
) -> tuple[pd.DataFrame, dict[str, object]]:
    """Return the spells as a plain table, and the parameters with the source that was used.

    Returns
    -------
    (DataFrame, dict)
        period, start_s, end_s, side (0 home, 1 away), began, won_in_play, outcome, estimated, x, y
        (attacking frame), continues (the data have a gap before it and the same side goes on), restart_x,
        restart_y (attacking frame; end of the restart, NaN unknown), first, last (half-open frames of the
        tracking, -1 without).
    """
    check_choice("source", source, ("auto", "events", "owner", "positions"))
    events = match.events if match.events is not None and len(match.events) else None
    if events is not None and not events["kind"].isin(CONTROL_KINDS).any():
        events = None  # substitutions and cards alone say nothing of the ball
    tracking = match.tracking
    if events is None and tracking is None:
        raise MissingDataError(
            f"Possession and phases need events on the ball or tracking; match {match.match_id!r} has "
            f"{_level(match)}. Load an events table with passes and carries, or tracking; spells and phases logged "
            "by hand can be kept as tags instead."
        )
    has_owner = tracking is not None and tracking.owner is not None and bool((tracking.owner >= 0).any())
    runs = live_runs_from_tracking(match) if tracking is not None else live_runs_from_events(match)
    if source == "auto":
        # A log of goals and corners beside full tracking is no record of who had the ball.
        logged = 0 if events is None else int(events["kind"].isin(CONTROL_KINDS).sum())
        enough = events is not None and (tracking is None or logged >= len(runs))
        source = "events" if enough else "owner" if has_owner else "positions"
    lacking = {"events": events is None, "owner": not has_owner, "positions": tracking is None}
    if lacking[source]:
        have = [name for name, lacks in lacking.items() if not lacks]
        raise MissingDataError(
            f"source {source!r} is not in match {match.match_id!r}; it has {' and '.join(repr(h) for h in have)}."
        )
    if source == "events":
        changes_from_events(match, runs, min_control_s)
    elif source == "owner":
        changes_from_owner(match, runs, min_control_s)
    else:
        changes_from_tracking(match, runs, contact_m, contact_s)
    params: dict[str, object] = {
        "source": source,
        "min_control_s": min_control_s,
        "contact_m": contact_m,
        "contact_s": contact_s,
    }
    return _table(match, runs, estimated=tracking is None or source == "positions"), params


def without_empty_tracking(match: Match) -> Match:
    """Return the match without a tracking that holds no frame, so that it counts as events alone."""
    return match if match.tracking is None or len(match.tracking) else match.with_data(tracking=None)


def _level(match: Match) -> str:
    return "events without one" if match.events is not None and len(match.events) else match.level


def _table(match: Match, runs: list[Run], estimated: bool) -> pd.DataFrame:
    """Lay the runs' spells out as rows."""
    rows: list[tuple[object, ...]] = []
    last_side, last_won = -1, False
    for run in runs:
        for i, (start, side, began, x, y) in enumerate(run.spells):
            final = i + 1 == len(run.spells)
            end = run.end_s if final else run.spells[i + 1][0]
            # Without a break of play the win that began the spell still counts after a gap in the data.
            continues = i == 0 and run.after_gap and side == last_side
            won = i > 0 or (run.after_gap and side != last_side and last_side >= 0) or (continues and last_won)
            outcome = (run.outcome if not run.before_gap else "") if final else "lost"
            sign = match.periods[run.period_row].home_attacks * (1 if side == 0 else -1)
            restart = i == 0 and not run.after_gap
            ex, ey = (run.restart_end[0] * sign, run.restart_end[1] * sign) if restart else (np.nan, np.nan)
            rows.append(
                (run.period, start, end, side, began, won, outcome, continues, x * sign + 0.0, y * sign + 0.0, ex, ey)
            )  # fmt: skip
            last_side, last_won = side, won
    columns = [
        "period", "start_s", "end_s", "side", "began", "won_in_play", "outcome", "continues", "x", "y",
        "restart_x", "restart_y",
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=columns)
    table = table.astype({"period": "int8", "side": "int64", "start_s": "float64", "end_s": "float64"})
    table["estimated"] = estimated
    table["first"], table["last"] = -1, -1
    if match.tracking is not None and len(table):
        first, last = _frames(match, table)
        table["first"], table["last"] = first, last
        table = table[first < last].reset_index(drop=True)
    return table


def _frames(match: Match, table: pd.DataFrame) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Half-open frames of each spell."""
    assert match.tracking is not None
    first, last = np.zeros(len(table), np.int64), np.zeros(len(table), np.int64)
    for number, frames in match.tracking.iter_periods():
        rows = (table["period"] == number).to_numpy()
        times = match.tracking.time_s[frames]
        first[rows] = frames.start + np.searchsorted(times, table["start_s"][rows] - 1e-6)
        last[rows] = frames.start + np.searchsorted(times, table["end_s"][rows] - 1e-6)
    return first, last


def _won_back_after(table: pd.DataFrame) -> NDArray[np.float64]:
    """Seconds from losing the ball to having it again, where play was not stopped in between."""
    n = len(table)
    after = np.full(n, np.nan)
    if n < 3:
        return after
    period, side = table["period"].to_numpy(), table["side"].to_numpy()
    start, end = table["start_s"].to_numpy(), table["end_s"].to_numpy()
    lost = (table["outcome"] == "lost").to_numpy()
    i = np.arange(n - 2)
    back = lost[i] & lost[i + 1] & (period[i] == period[i + 2]) & (side[i] == side[i + 2])
    after[i[back]] = start[i[back] + 2] - end[i[back]]
    return after


def _actions_in(match: Match, table: pd.DataFrame) -> tuple[NDArray[np.float64], list[tuple[str, ...]]]:
    """Passes of the side with the ball in each spell, and who acted."""
    passes = np.full(len(table), np.nan)
    players: list[tuple[str, ...]] = [()] * len(table)
    if match.events is None or not len(table):
        return passes, players
    passes[:] = 0
    events = match.events[match.events["kind"].isin(ACTION_KINDS)]
    # Spells are in order; an action belongs to the last spell that began before it, if it is of its side: else,
    # as clocks differ by a frame, to the one of its side that begins within a twentieth of a second.
    scale, slack = 1e6, 0.05
    at = events["period"].to_numpy() * scale + events["time_s"].to_numpy()
    side = pd.Index([match.home.team_id, match.away.team_id]).get_indexer(pd.Index(events["team"]))  # -1: of nobody
    start = table["period"].to_numpy() * scale + table["start_s"].to_numpy()
    end = table["period"].to_numpy() * scale + table["end_s"].to_numpy()
    row, inside = np.zeros(len(at), np.int64), np.zeros(len(at), bool)
    for early in (1e-6, slack):
        last = np.searchsorted(start - early, at, "right") - 1
        fits = (last >= 0) & (side == table["side"].to_numpy()[last]) & (at <= end[last] + slack) & ~inside
        row[fits], inside = last[fits], inside | fits
    row, events = row[inside], events[inside]
    np.add.at(passes, row[(events["kind"] == "pass").to_numpy()], 1)
    who: dict[int, dict[str, None]] = {}
    for r, player in zip(row.tolist(), events["player"].tolist()):
        if player:
            who.setdefault(r, {})[player] = None
    for r, names in who.items():
        players[r] = tuple(names)
    return passes, players
