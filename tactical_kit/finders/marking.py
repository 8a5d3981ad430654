"""Marking: man-oriented or zonal, spell by spell; who follows whom, and who is free."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.measures.marking import assign_markers, goal_side_places, orientation, pair_shares, zone_places
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import find_phases

__all__ = ["find_marking"]

COLUMNS = {
    "phase": Column("str", "what the defending side was doing"),
    "orientation": Column("float64", "0: its zones alone would give the same pairs; 1: always with the same man"),
    "pairs": Column("object", "who followed whom for at least half of the spell, as marker:marked"),
    "spare_man": Column("str", "the opponent nearest to the ball whom nobody followed"),
    "free": Column("int64", "opponents whom nobody followed for most of the spell"),
    "cover_man": Column("str", "the deepest player of the defending side who followed nobody"),
    "steadiness": Column("float64", "share of the spell in which the pairs held"),
    "marker_m": Column("float64", "mean distance of the markers to the place goal-side of their men", "m"),
    "seconds": Column("float64", "length of the spell", "s"),
}


@finder(
    "marking",
    needs=("tracking",),
    finds="Who follows whom while a side defends in its block: man-oriented or zonal, and who is free.",
    columns=COLUMNS,
)
def find_marking(
    match: Match,
    *,
    phases: tuple[str, ...] = ("high press", "mid-block", "low block"),
    least_s: float = 4.0,
    longest_s: float = 10.0,
    goal_side_m: float = 2.0,
    reach_m: float = 5.0,
    pair_share: float = 0.5,
    zone_s: float = 120.0,
    rate_hz: float = 2.0,
) -> Moments:
    """Find, for every spell of an organised block, who follows whom and how man-oriented the side defends.

    Parameters
    ----------
    match : Match
        With tracking; events make the phases surer.
    phases : tuple of str, default high press, mid-block and low block
        Phases without the ball that are looked at.
    least_s, longest_s : float, default 4 and 10
        A spell lasts at least 4 s; a longer phase than 10 s is told in equal parts of at most that, s.
    goal_side_m : float, default 2
        The marking place is so far goal-side of an opponent, m.
    reach_m : float, default 5
        Who is at most so far from the marking place of an opponent marks him, m.
    pair_share : float, default 0.5
        A pair holds for at least this share of the spell.
    zone_s : float, default 120
        Zones of a phase are learnt from the match where the phase lasts at least so long in all, s.
    rate_hz : float, default 2
        Instants a second.

    Returns
    -------
    Moments
        Finder "marking", one row a spell; `team` defends; players: the markers of the pairs, the steadiest first; x, y
        the middle of its outfield players at the start.  Own columns in `COLUMNS`; numbers of pairs are NaN
        without any.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    At each instant every defender is given at most one opponent, by the least sum of distances to the places goal-side
    of them; the pair must be within reach.  The index compares this with what the same men would give if they only
    kept their zones, which move with the ball and are learnt from the whole match (`measures.marking`): a
    side that always marks man for man has zones that look like it, and scores lower than it should against
    opponents who keep their places, too.  Keepers do not count.  Spells with fewer than two instants in the data
    are left out; a player who is missing for part of a spell marks nobody then.
    Source: marking place after an essay of R. Tavares 2020 (not peer-reviewed); the index is an own proposal; the
    rest is common practice, no source.  A reach of 5 m told man-for-man presses from zonal ones better than the
    essay's 7.5 m on simulated matches.
    """
    params = {
        "phases": phases, "least_s": least_s, "longest_s": longest_s, "goal_side_m": goal_side_m,
        "reach_m": reach_m, "pair_share": pair_share, "zone_s": zone_s, "rate_hz": rate_hz,
    }  # fmt: skip
    tracking = match.need_tracking("Marking")
    rows: list[dict[str, object]] = []
    for team in match.teams:
        spells = _spells(match, team.team_id, phases, least_s, longest_s)
        number, time_s = _instants(spells, rate_hz)
        frame = tracking.indices_at(spells["period"].to_numpy()[number], time_s)
        number, frame = number[frame >= 0], frame[frame >= 0]
        who = _markers(match, team.team_id, frame, number, spells, goal_side_m, reach_m, round(zone_s * rate_hz))
        bounds = np.searchsorted(number, np.arange(len(spells) + 1))
        told = spells[["period", "start_s", "end_s", "phase"]].to_dict("records")
        for spell, (first, last) in zip(told, pairwise(bounds.tolist())):
            if last - first >= 2:
                rows.append({"team": team.team_id, **spell, **_row(who, slice(first, last), pair_share)})
    table = pd.DataFrame(rows, columns=["period", "start_s", "end_s", "team", "players", "x", "y", *COLUMNS])
    table["seconds"] = table["end_s"] - table["start_s"]
    return Moments.build("marking", table, COLUMNS, params, match.match_id)


def _spells(match: Match, team: str, phases: tuple[str, ...], least_s: float, longest_s: float) -> pd.DataFrame:
    """Return the spells of one side without the ball, long ones cut into equal parts."""
    table = find_phases(match).table
    mine = table[(table["team"] == team) & (table["side"] == "out") & table["phase"].isin(phases)]
    mine = mine[mine["end_s"] - mine["start_s"] >= least_s - 1e-6].reset_index(drop=True)
    length = (mine["end_s"] - mine["start_s"]).to_numpy()
    parts = np.maximum(np.ceil(length / longest_s - 1e-6), 1).astype(int)
    row = np.repeat(np.arange(len(mine)), parts)
    nth = np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts)
    cut = mine.iloc[row].reset_index(drop=True)
    start, step = mine["start_s"].to_numpy()[row], (length / parts)[row]
    return cut.assign(start_s=start + nth * step, end_s=start + (nth + 1) * step)


def _instants(spells: pd.DataFrame, rate_hz: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the number of the spell and the time of every instant that is looked at."""
    length = (spells["end_s"] - spells["start_s"]).to_numpy(float)
    count = np.ceil(length * rate_hz - 1e-6).astype(int)
    number = np.repeat(np.arange(len(spells)), count)
    nth = np.arange(len(number)) - np.repeat(np.cumsum(count) - count, count)
    return number, spells["start_s"].to_numpy(float)[number] + nth / rate_hz


@dataclass(frozen=True, eq=False)
class _Markers:
    """Who marks whom at N instants: D defenders, A attackers, all in the outfield."""

    own: NDArray[np.float64]
    other: NDArray[np.float64]
    ball: NDArray[np.float64]
    markers: NDArray[np.int64]
    zonal: NDArray[np.int64]
    distance: NDArray[np.float64]  # of each defender to the place of the man he marks, NaN without
    own_ids: NDArray[np.object_]
    other_ids: NDArray[np.object_]


def _markers(
    match: Match,
    team: str,
    frame: NDArray[np.int64],
    number: NDArray[np.int64],
    spells: pd.DataFrame,
    goal_side_m: float,
    reach_m: float,
    least: int,
) -> _Markers:
    """Assign markers where the players stand, and where their zones would have them."""
    sides = sides_at(match, frame, team)
    own, other = sides.own_outfield, sides.other_outfield
    places = goal_side_places(other, (-match.pitch.half_length, 0.0), goal_side_m)
    markers = assign_markers(own, places, reach_m)
    zones = zone_places(own, sides.ball, spells["phase"].to_numpy(object)[number], number, least)
    man = np.take_along_axis(places, np.maximum(markers, 0)[..., None], axis=1)
    away = np.hypot(*np.moveaxis(own - man, -1, 0))
    return _Markers(
        own, other, sides.ball, markers, assign_markers(zones, places, reach_m), np.where(markers >= 0, away, np.nan),
        np.array(sides.own_ids, dtype=object)[~sides.own_keeper],
        np.array(sides.other_ids, dtype=object)[~sides.other_keeper],
    )  # fmt: skip


def _row(who: _Markers, span: slice, pair_share: float) -> dict[str, object]:
    """Tell one spell: the pairs that held, how oriented to men it was, and who was free on either side."""
    own, other = who.own[span], who.other[span]
    mine = np.asarray(np.isfinite(own[..., 0]).any(axis=0))
    theirs = np.asarray(np.isfinite(other[..., 0]).any(axis=0))
    share = pair_shares(who.markers[span], other.shape[1])
    man, held = share.argmax(axis=1), share.max(axis=1)
    steady = np.flatnonzero((held >= pair_share - 1e-9) & (held > 0))
    steady = steady[np.argsort(-held[steady], kind="stable")]
    followed = share.sum(axis=0) >= pair_share - 1e-9
    free = np.flatnonzero(theirs & ~followed)
    loose = mine.copy()
    loose[steady] = False
    ball = who.ball[span]
    to_ball = np.hypot(*np.moveaxis(other[:, free] - ball[:, None], -1, 0))
    first = own[0][np.isfinite(own[0, :, 0])]
    together = who.markers[span][:, steady] == man[steady]
    return {
        "players": tuple(who.own_ids[steady]),
        "x": float(first[:, 0].mean()) if len(first) else np.nan,
        "y": float(first[:, 1].mean()) if len(first) else np.nan,
        "orientation": orientation(who.markers[span][:, mine], who.zonal[span][:, mine], other.shape[1]),
        "pairs": tuple(f"{who.own_ids[d]}:{who.other_ids[man[d]]}" for d in steady),
        "spare_man": _least(who.other_ids[free], to_ball),
        "free": len(free),
        "cover_man": _least(who.own_ids[loose], own[:, loose, 0]),
        "steadiness": float(held[steady].mean()) if len(steady) else np.nan,
        "marker_m": float(who.distance[span][:, steady][together].mean()) if len(steady) else np.nan,
    }


def _least(names: NDArray[np.object_], values: NDArray[np.float64]) -> str:
    """Return the name whose mean over the instants is the least, "" for nobody."""
    known = np.isfinite(values)
    count = known.sum(axis=0)
    if not count.any():
        return ""
    mean = np.divide(np.where(known, values, 0.0).sum(axis=0), count, out=np.full(len(names), np.inf), where=count > 0)
    return str(names[int(mean.argmin())])
