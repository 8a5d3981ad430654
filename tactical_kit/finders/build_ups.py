"""Build-ups: number against number in the first lines, the route taken, and how it ended."""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.finders.beginnings import first_touches
from tactical_kit.finders.context import aftermath, index_of
from tactical_kit.finders.registry import finder
from tactical_kit.finders.units import opponents_lines
from tactical_kit.match import Match
from tactical_kit.measures.beaten import beaten_by
from tactical_kit.measures.carries import carry_table
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.numbers import first_line_numbers
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import keepers_of, sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import find_phases, find_possessions
from tactical_kit.pitch import THIRDS

__all__ = ["ROUTES", "find_build_ups", "route_of"]

ROUTES = ("short", "circulated", "direct switch", "long")
_CONTROL_S = 0.5  # on the ball for this long he has it under control; common practice, no source
COLUMNS = {
    "n_for": Column("float64", "outfield players who build in the first lines", short="building"),
    "n_against": Column("float64", "opponents who press them up front", short="pressing"),
    "spare": Column("float64", "how many more build than press"),
    "route": Column("str", "short, circulated, direct switch or long"),
    "reached_zone": Column("str", "furthest the ball came before it was lost: own, middle, final third, penalty area"),
    "outcome": Column("str", "how the build-up ended: progressed, lost, out, foul..."),
    "shot": Column("boolean", "the possession came to a shot"),
    "lines_beaten": Column("float64", "unit lines beaten by its passes and carries, in all"),
    "passes": Column("int64", "passes played in it, the one that ended it included"),
    "keeper_played": Column("bool", "the keeper played one of them"),
    "began": Column("str", "the restart or how the ball was won, or played back from further up"),
    "pressers": Column("object", "the opponents' first line, the highest first"),
    "estimated": Column("bool", "phases or passes are inferred from part of the data"),
}


@finder(
    "build-up",
    needs=("events or tracking",),
    finds="A side builds from its first lines: how many against how many press, by which route, and how it ends.",
    columns=COLUMNS,
)
def find_build_ups(
    match: Match,
    *,
    least_s: float = 1.0,
    share: float = 0.33,
    long_m: float = 30.0,
    long_gain_m: float = 15.0,
    switch_m: float = 30.0,
    circulated_m: float = 25.0,
    circulated_passes: int = 3,
) -> Moments:
    """Find every build-up: a spell of the phase "build-up" in which the side is on the ball.

    Parameters
    ----------
    match : Match
        With events or tracking; the numbers in the first lines and the lines beaten need tracking.
    least_s : float, default 1
        A build-up lasts at least this long, s.
    share : float, default 0.33
        Who builds in the first lines: outfield players who on average stand at most this share of the way from the
        opponents' first line to their midfield line; see `first_line_numbers`.  A third lets in the pivots behind
        the first line; of the values 0 to 0.5 it came nearest to the numbers told in simulated matches.
    long_m, long_gain_m : float, default 30 and 15
        Route "long": the last pass goes at least 30 m and gains at least 15 m, and more forward than across, m.
    switch_m : float, default 30
        Route "direct switch": a pass goes at least this far across the pitch, m.
    circulated_m, circulated_passes : float and int, default 25 m and 3
        Route "circulated": at least three passes take the ball over at least 25 m of the width.

    Returns
    -------
    Moments
        Finder "build-up".  `team` builds; players: the builders, the deepest first (without tracking: who played or
        got a pass, in that order); x, y the ball at the start.  Own columns in `COLUMNS`; n_for, n_against, spare,
        lines_beaten NaN and pressers () where there is no tracking, lines_beaten NaN too where it does not show
        one of the passes or carries; `shot` unknown without events.

    Raises
    ------
    MissingDataError
        Neither events nor tracking.

    Notes
    -----
    The numbers are those of the mean places over the spell, so a man who jumps for a moment is counted in the line
    he came from.  A spell in which the tracking shows nobody of the side on the ball (it rolls out of play, say) is
    none.  A build-up that is broken off by progression and taken up again is two.  The outcome is that
    of the build-up itself: "progressed" if the possession goes on further up and the side does something with the
    ball there (with a long ball that nobody of the side gets under control it has not), otherwise how the possession
    ended; reached_zone and shot speak of the possession until it ended.
    Source: common practice, no source; what is a long pass is disputed (25 to 32 m, from memory).
    """
    params = {
        "least_s": least_s, "share": share, "long_m": long_m, "long_gain_m": long_gain_m, "switch_m": switch_m,
        "circulated_m": circulated_m, "circulated_passes": circulated_passes,
    }  # fmt: skip
    spells = _spells(match, least_s)
    passes = pass_table(match)
    played = _rows_in(passes, spells)
    ways = passes[["x", "y", "end_x", "end_y"]].to_numpy()
    routes = [
        route_of(
            ways[p], long_m=long_m, long_gain_m=long_gain_m, switch_m=switch_m, circulated_m=circulated_m,
            circulated_passes=circulated_passes,
        )
        for p in played
    ]  # fmt: skip
    spells["route"] = pd.Series(routes, dtype=object, index=spells.index)
    spells["passes"] = [len(p) for p in played]
    by_keeper = passes["player"].isin(_keepers(match)).to_numpy()
    spells["keeper_played"] = [bool(by_keeper[p].any()) for p in played]
    read_off = passes["estimated"].to_numpy()
    spells["estimated"] = spells["estimated"] | np.array([bool(read_off[p].any()) for p in played], bool)
    spells["lines_beaten"] = _lines_beaten(match, passes, spells)
    _add_numbers(match, spells, share)
    if match.tracking is None:
        spells["players"] = pd.Series([_involved(passes.iloc[p]) for p in played], dtype=object, index=spells.index)
    came_of = aftermath(match, spells["period"], spells["start_s"], spells["team"], within_s=np.inf)
    spells["reached_zone"] = _zone_words(match, came_of)
    has_events = match.events is not None
    spells["shot"] = came_of["shot_s"].notna() if has_events else pd.array([pd.NA] * len(spells), "boolean")
    core = ["period", "start_s", "end_s", "team", "players", "x", "y"]
    return Moments.build("build-up", spells[[*core, *COLUMNS]], COLUMNS, params, match.match_id)


def route_of(
    ways: ArrayLike,
    *,
    long_m: float = 30.0,
    long_gain_m: float = 15.0,
    switch_m: float = 30.0,
    circulated_m: float = 25.0,
    circulated_passes: int = 3,
) -> str:
    """Name the route of one build-up from its passes; thresholds as in `find_build_ups`.

    Parameters
    ----------
    ways : (K, 4) array
        Its K passes in order: x, y, end_x, end_y in the attacking frame, m.

    Returns
    -------
    str
        One of `ROUTES`: "long" by the last pass, else "direct switch" by any pass, else "circulated", else "short"
        (which a build-up without a pass is too).
    """
    x, y, end_x, end_y = np.asarray(ways, float).reshape(-1, 4).T
    if not len(x):
        return "short"
    gain, across = end_x - x, np.abs(end_y - y)
    if np.hypot(gain[-1], across[-1]) >= long_m and gain[-1] >= long_gain_m and gain[-1] > across[-1]:
        return "long"
    if (across >= switch_m).any():
        return "direct switch"
    touched = np.concatenate([y, end_y])
    touched = touched[np.isfinite(touched)]
    if len(x) >= circulated_passes and len(touched) and np.ptp(touched) >= circulated_m:
        return "circulated"
    return "short"


def _spells(match: Match, least_s: float) -> pd.DataFrame:
    """Spells of the phase, with how they began and ended."""
    phases = find_phases(match).table
    phases = phases[phases["side"] == "in"].reset_index(drop=True)
    possessions = find_possessions(match).table
    before, after = phases.shift(1), phases.shift(-1)
    goes_on = (after["possession"] == phases["possession"]) & (after["start_s"] <= phases["end_s"] + 1e-6)
    came_back = (before["possession"] == phases["possession"]) & before["phase"].isin(["progression", "final third"])
    began = first_touches(match, possessions)["began"].to_numpy(object)
    spell_of = possessions.iloc[phases["possession"].to_numpy()].reset_index(drop=True)
    progressed = goes_on & _plays_on(match, phases, spell_of["end_s"].to_numpy())
    phases["outcome"] = np.where(progressed, "progressed", spell_of["outcome"].to_numpy(object))
    phases["began"] = np.where(came_back, "played back", began[phases["possession"].to_numpy()])
    phases["estimated"] = phases["estimated"] | spell_of["estimated"].to_numpy(bool)
    long_enough = phases["end_s"] - phases["start_s"] >= least_s - 1e-6
    builds = phases[(phases["phase"] == "build-up") & long_enough].reset_index(drop=True)
    return builds[_on_the_ball(match, builds)].reset_index(drop=True)


def _on_the_ball(match: Match, spells: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether anybody of the side is on the ball at any time of each spell; True where no frame can tell."""
    tracking = match.tracking
    result = np.ones(len(spells), bool)
    if tracking is None:
        return result
    column = ball_holder(match).column
    key = tracking.period * 1e5 + tracking.time_s
    for side, team in enumerate(match.teams):
        mine = np.flatnonzero(spells["team"] == team.team_id)
        held = (column >= 0) & (tracking.team_index[np.maximum(column, 0)] == side)
        passed = np.concatenate([[0], np.cumsum(held)])
        base = spells["period"].to_numpy()[mine] * 1e5
        first, last = (np.searchsorted(key, base + spells[c].to_numpy()[mine] - 1e-6) for c in ("start_s", "end_s"))
        result[mine] = (passed[last] > passed[first]) | (last == first)
    return result


def _plays_on(match: Match, spells: pd.DataFrame, until_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether the side does anything with the ball between the end of each spell and an instant.

    A pass, a shot, or a carry that ends later; a ball on its way that nobody of the side gets to is nothing.
    """
    passes, carries = pass_table(match), carry_table(match, least_m=0.0)
    # Read from the tracking, a header is a short spell on the ball, and a pass that does not arrive.
    carries = carries[~carries["estimated"] | (carries["end_s"] - carries["time_s"] >= _CONTROL_S - 1e-6)]
    passes = passes[~passes["estimated"] | passes["complete"]]
    parts = [(passes, "time_s"), (carries, "end_s")]
    if match.events is not None:
        parts.append((match.events[match.events["kind"] == "shot"], "time_s"))
    played = pd.concat([t[["period", "team"]].assign(at=t[at]) for t, at in parts], ignore_index=True)
    result = np.zeros(len(spells), bool)
    for period, team in set(zip(spells["period"], spells["team"])):
        mine = np.flatnonzero((spells["period"] == period) & (spells["team"] == team))
        at = np.sort(played.loc[(played["period"] == period) & (played["team"] == team), "at"].to_numpy(float))
        end_s = spells["end_s"].to_numpy()[mine]
        later = np.append(at, np.inf)[np.searchsorted(at, end_s - 1e-6)]
        result[mine] = later <= until_s[mine] + 0.5  # a shot may end the possession a moment before its own event
    return result


def _rows_in(actions: pd.DataFrame, spells: pd.DataFrame) -> list[NDArray[np.int64]]:
    """Rows of a table of passes or carries that the side began within each of its spells."""
    key = actions["period"].to_numpy() * 1e5 + actions["time_s"].to_numpy()  # tables are in order of time
    base = spells["period"].to_numpy() * 1e5
    first = np.searchsorted(key, base + spells["start_s"].to_numpy() - 1e-6)
    last = np.searchsorted(key, base + spells["end_s"].to_numpy() - 1e-6)
    team, side = actions["team"].to_numpy(object), spells["team"].to_numpy(object)
    return [a + np.flatnonzero(team[a:b] == s) for a, b, s in zip(first, last, side)]


def _keepers(match: Match) -> set[str]:
    keepers = {p for p, player in match.players.items() if player.position == "GK"}
    if match.tracking is not None:
        keepers |= {p for p, k in zip(match.tracking.players, keepers_of(match, match.tracking)) if k}
    return keepers


def _lines_beaten(match: Match, passes: pd.DataFrame, spells: pd.DataFrame) -> NDArray[np.float64]:
    """Sum of the unit lines beaten in each spell by completed passes and by carries; NaN where one is unknown."""
    if match.tracking is None:
        return np.full(len(spells), np.nan)
    total = np.zeros(len(spells))
    for table in (passes[passes["complete"]].reset_index(drop=True), carry_table(match)):
        lines = beaten_by(match, table, lines_of=partial(opponents_lines, match))["lines_beaten"].to_numpy()
        total += [lines[rows].sum() for rows in _rows_in(table, spells)]
    return total


def _add_numbers(match: Match, spells: pd.DataFrame, share: float) -> None:
    """Add n_for, n_against, spare, players and pressers from the mean places over each spell."""
    for column in ("n_for", "n_against"):
        spells[column] = np.nan
    players: list[tuple[str, ...]] = [()] * len(spells)
    pressers: list[tuple[str, ...]] = [()] * len(spells)
    if match.tracking is not None:
        frames = index_of(match).frames
        for team in match.teams:
            rows = np.flatnonzero((spells["team"] == team.team_id).to_numpy())
            inside = [_frames_in(frames.period, frames.time_s, s) for s in spells.iloc[rows].itertuples()]
            lengths = np.array([len(i) for i in inside])
            rows, inside = rows[lengths > 0], [i for i in inside if len(i)]
            if not len(rows):
                continue
            sides = sides_at(match, frames.frame[np.concatenate(inside)], team.team_id)
            spell = np.repeat(np.arange(len(rows)), lengths[lengths > 0])
            own, other = (_mean_x(x, spell, len(rows)) for x in (sides.own_outfield, sides.other_outfield))
            lines = first_line_numbers(own, other, share=share)
            spells.loc[rows, "n_for"], spells.loc[rows, "n_against"] = lines.n_for, lines.n_against
            own_ids = np.array(sides.own_ids, dtype=object)[~sides.own_keeper]
            other_ids = np.array(sides.other_ids, dtype=object)[~sides.other_keeper]
            for i, row in enumerate(rows):
                players[row] = _in_order(own_ids, own[i], lines.builders[i])
                pressers[row] = _in_order(other_ids, other[i], lines.pressers[i])
    spells["spare"] = spells["n_for"] - spells["n_against"]
    spells["players"] = pd.Series(players, dtype=object, index=spells.index)
    spells["pressers"] = pd.Series(pressers, dtype=object, index=spells.index)


def _frames_in(period: NDArray[np.int8], time_s: NDArray[np.float64], spell: object) -> NDArray[np.int64]:
    number, start_s, end_s = (getattr(spell, c) for c in ("period", "start_s", "end_s"))
    return np.flatnonzero((period == number) & (time_s >= start_s - 1e-6) & (time_s < end_s - 1e-6))


def _mean_x(places: NDArray[np.float64], spell: NDArray[np.int64], n: int) -> NDArray[np.float64]:
    """Mean x of each player in each of n spells; NaN for who is seen in less than half of it."""
    x = places[..., 0]
    seen = np.isfinite(x)
    total, number = np.zeros((n, x.shape[1])), np.zeros((n, x.shape[1]))
    np.add.at(total, spell, np.where(seen, x, 0.0))
    np.add.at(number, spell, seen)
    enough = (number > 0) & (2 * number >= np.bincount(spell, minlength=n)[:, None])
    return np.where(enough, total / np.maximum(number, 1), np.nan)


def _in_order(ids: NDArray[np.object_], x: NDArray[np.float64], mask: NDArray[np.bool_]) -> tuple[str, ...]:
    """Ids of some players, the one nearest to the goal of the side that builds first."""
    mine = np.flatnonzero(mask)
    return tuple(ids[mine[np.argsort(x[mine], kind="stable")]])


def _involved(passes: pd.DataFrame) -> tuple[str, ...]:
    both = passes[["player", "receiver"]].to_numpy(object).reshape(-1)
    return tuple(dict.fromkeys(p for p in both if p))


def _zone_words(match: Match, came_of: pd.DataFrame) -> NDArray[np.object_]:
    """Furthest zone of the possession in words, "" unknown."""
    furthest = came_of["furthest_x"].replace(-np.inf, np.nan).to_numpy()  # a ball that is nowhere in the data
    third = match.pitch.third_of(np.clip(furthest, -match.pitch.half_length, match.pitch.half_length))
    words = np.append(np.array(THIRDS, dtype=object), "")[third]
    return np.where(came_of["box_s"].notna(), "penalty area", words)
