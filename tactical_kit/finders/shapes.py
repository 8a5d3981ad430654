"""The shapes of both sides with and without the ball, phase by phase, and when they changed."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import index_of
from tactical_kit.finders.phase_runs import phase_runs
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.measures.formation import (
    formation_distance,
    line_sizes,
    pooled_roles,
    role_names,
    shape_name,
)
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.roles import Roles, assign_roles, find_roles, relative_places
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments

__all__ = ["SHAPED_PHASES", "find_shapes"]

Floats = NDArray[np.float64]

# Phases in which a side holds a shape; in transitions and set plays it has none yet.
SHAPED_PHASES = {
    "in": ("build-up", "progression", "final third"),
    "out": ("high press", "mid-block", "low block"),
}
COLUMNS: dict[str, Column] = {
    "side": Column("str", 'with the ball ("in") or without it ("out")'),
    "phase": Column("str", "phase of play of this side"),
    "shape": Column("str", "players in each line, back line first"),
    "roles": Column("object", "who filled which role, as player:role, keeper first"),
    "changed": Column("bool", "differs from the spell of this side and phase before"),
    "distance_m": Column("float64", "how far from the shape of the spell before, a player", "m"),
    "seconds": Column("float64", "time in this phase in the spell", "s"),
    "outfield": Column("int64", "outfield players on the pitch"),
    "came_on": Column("object", "players who were not in the spell before"),
    "went_off": Column("object", "players of the spell before who are gone"),
}


@dataclass(frozen=True, eq=False)
class _Stream:
    """Every instant looked at of one side with (or without) the ball in one period with R outfield players."""

    period: int
    start_s: Floats  # (N,) of the time that each instant stands for
    end_s: Floats
    seconds: Floats
    run: NDArray[np.int64]  # (N,) number of the spell of the phase
    phase: NDArray[np.int64]  # (N,) code
    who: NDArray[np.int64]  # (N, R) columns of the side
    places: Floats  # (N, R, 2)


@dataclass(eq=False)
class _Part:
    """One phase within a spell: its instants and the formation in them."""

    stream: _Stream
    rows: NDArray[np.int64]
    roles: Roles
    filled: list[tuple[str, str]] = field(default_factory=list)  # (player, role), keeper first

    @property
    def seconds(self) -> float:
        """Time in the phase."""
        return float(self.stream.seconds[self.rows].sum())


_Spell = dict[int, _Part]  # one stretch of time, by the code of the phase


@finder(
    "line-up shape",
    needs=("tracking",),
    finds="The shape of a side in one phase over a spell of time, with the role of each player, and where it changed.",
    columns=COLUMNS,
)
def find_shapes(
    match: Match,
    *,
    window_s: float = 90.0,
    least_s: float = 20.0,
    change_share: float = 0.25,
    sample_s: float = 2.0,
    min_players: int = 7,
    line_gap_m: float = 6.0,
    bow_m: float = 6.0,
) -> Moments:
    """Find the shape of each side in each phase, over the spells of time in which it stayed the same.

    Parameters
    ----------
    match : Match
        With tracking.
    window_s : float, default 90
        Time with (or without) the ball that makes one observation of the shape, s; the last may be shorter or longer.
        Shaw & Glickman 2019 took two minutes; chosen among 60 to 150 s on development matches.
    least_s : float, default 20
        A phase with less time in a spell gets no row, s.  Common practice, no source.
    change_share : float, default 0.25
        Two observations at least this share of their mean distance to the middle of the side apart are different
        shapes: about 4 m a player in a block, 5.5 m in an attack.  Chosen on development matches; no source.
    sample_s : float, default 2
        Places are read this far apart, s.
    min_players : int, default 7
        With fewer outfield players on the pitch a side gets no shape.  Common practice, no source.
    line_gap_m, bow_m : float, default 6 and 6
        See `line_sizes`.

    Returns
    -------
    Moments
        Finder "line-up shape".  A row is one side in one phase (build-up, progression, final third; high
        press, mid-block, low block) from the first to the last instant of the spell, so that rows of different phases
        overlap; `seconds` is the time in the phase alone.  A spell ends with the period, when a player more or
        fewer is on the pitch, and when the shape changed.  When it changed is looked for in all phases with (or
        without) the ball together, as no phase alone has time enough; a phase that kept its shape goes on.
        `players` and `roles` from the keeper to the front, each line from right to left; a player stands once, in
        the role he filled longest, a substitute in addition to whom he replaced.  x, y: mean middle of the outfield
        players.  `distance_m` is NaN and `changed` False for the first spell of a phase; with a player more or fewer
        `distance_m` is NaN and `changed` True.

    Raises
    ------
    MissingDataError
        No tracking.

    Notes
    -----
    Instants in which fewer or more outfield players are in the data than are on the pitch (by squads, substitutions
    and cards; by the tracking alone without events) are left out.  A shape is what the places
    show: lines are read from depth alone, so that a 4-2-3-1 may show as 4-4-2 without the ball.  A
    change is found to the spell of the phase that fits best; one that lasts less than an observation or two, or
    touches only a phase with little time, is not found.
    Source: roles as in Bialkowski et al. 2014, distance of formations as in Shaw & Glickman 2019; neighbouring
    observations are joined from the most alike on, as in clustering from below, the project's own.
    """
    match.need_tracking("The shape of a side")
    index = index_of(match)
    rows: list[dict[str, object]] = []
    for side, team in enumerate(match.teams):
        sampled = _sampled(index, side, sample_s)
        row = sampled["row"].to_numpy()
        sides = sides_at(match, index.frames.frame[row], team.team_id)
        ids = [p for p, keeper in zip(sides.own_ids, sides.own_keeper) if not keeper]
        keepers = [p for p, keeper in zip(sides.own_ids, sides.own_keeper) if keeper]
        stints = match.stints[match.stints["player"].isin(keepers)]
        expected = _expected(match, team.team_id, index.frames.period[row], index.frames.time_s[row], keepers)
        for way, phases in SHAPED_PHASES.items():
            codes = [index.phase_names.index(phase) for phase in phases]
            spells: list[_Spell] = []
            for stream in _streams(sampled, codes, sides.own_outfield, expected, min_players):
                spells += _spells(stream, window_s, change_share)
            for code, phase in zip(codes, phases):
                before: _Part | None = None
                for part in _parts(spells, code, least_s, change_share):
                    sizes = line_sizes(part.roles.mean[None], line_gap_m=line_gap_m, bow_m=bow_m)[0]
                    part.filled = _filled(part, sizes, ids, stints)
                    words = {"team": team.team_id, "side": way, "phase": phase}
                    rows.append(words | _told(part, before, sizes, change_share))
                    before = part
    params = {
        "window_s": window_s, "least_s": least_s, "change_share": change_share, "sample_s": sample_s,
        "min_players": min_players, "line_gap_m": line_gap_m, "bow_m": bow_m,
    }  # fmt: skip
    return Moments.build("line-up shape", rows, COLUMNS, params, match.match_id)


# -- the places that are looked at ------------------------------------------------------------------------


_SAMPLED = ("start_s", "end_s", "seconds", "run", "code")


def _sampled(index: MatchIndex, side: int, sample_s: float) -> pd.DataFrame:
    """The instants that are looked at: `sample_s` apart within each run of a phase in which the side holds a shape.

    Columns: row (into the index's frames), code, period, run, start_s, end_s, seconds (the time that it stands for).
    """
    frames, runs = index.frames, phase_runs(index, side)
    code, run, length = frames.phase[:, side], runs.run, runs.length
    # The middle of each step stands for it; a shorter run is looked at once.
    step = max(1, round(sample_s / frames.frame_s))
    since = np.arange(len(frames)) - runs.first[run]
    wanted = [index.phase_names.index(p) for phases in SHAPED_PHASES.values() for p in phases]
    kept = (since % step == np.minimum(step, length[run]) // 2) & np.isin(code, wanted)
    row = np.flatnonzero(kept)
    mine, time_s = run[row], frames.time_s[row]
    opens, closes = np.diff(mine, prepend=-1) != 0, np.diff(mine, append=-1) != 0
    return pd.DataFrame(
        {
            "row": row,
            "code": code[row],
            "period": frames.period[row],
            "run": mine,
            "start_s": np.where(opens, runs.start_s[mine], time_s - sample_s / 2),
            "end_s": np.where(closes, runs.end_s[mine], time_s + sample_s / 2),
            "seconds": (length * frames.frame_s)[mine] / np.bincount(mine, minlength=len(length))[mine],
        }
    )


def _expected(
    match: Match, team: str, period: NDArray[np.int8], time_s: Floats, keepers: list[str]
) -> NDArray[np.int64]:
    """How many outfield players are on the pitch at each instant, (N,), whether in the data or not."""
    number = np.zeros(len(time_s), np.int64)
    stints = match.stints[match.stints["team"] == team]
    for player, part, start, end in zip(stints["player"], stints["period"], stints["start_s"], stints["end_s"]):
        if player not in keepers:
            number += (period == part) & (time_s >= start) & (time_s < end)
    return number


def _streams(
    sampled: pd.DataFrame, codes: list[int], places: Floats, expected: NDArray[np.int64], min_players: int
) -> list[_Stream]:
    """The instants of some phases, cut where the period ends and where the number of players changes."""
    seen = np.asarray(np.isfinite(places).all(axis=2), bool)
    whole = np.flatnonzero(sampled["code"].isin(codes).to_numpy() & (seen.sum(axis=1) == expected))
    number, period = seen[whole].sum(axis=1), sampled["period"].to_numpy()[whole]
    cut = np.flatnonzero((np.diff(number) != 0) | (np.diff(period) != 0)) + 1
    streams = []
    for part in np.split(whole, cut):
        r = int(seen[part[0]].sum()) if len(part) else 0
        if r < min_players:
            continue
        who = np.argsort(~seen[part], axis=1, kind="stable")[:, :r]
        mine = sampled.iloc[part]
        start_s, end_s, seconds, run, phase = (mine[c].to_numpy() for c in _SAMPLED)
        there = np.take_along_axis(places[part], who[:, :, None], axis=1)
        streams.append(_Stream(int(mine["period"].iloc[0]), start_s, end_s, seconds, run, phase, who, there))
    return streams


# -- spells of one shape ------------------------------------------------------------------------------------


def _spells(stream: _Stream, window_s: float, change_share: float) -> list[_Spell]:
    """Observations of `window_s`, the most alike neighbours joined until all neighbours differ."""
    spells = [_spell(stream, rows) for rows in _windows(stream, window_s)]
    while len(spells) > 1:
        apart = [_difference(a, b) for a, b in pairwise(spells)]
        i = int(np.argmin(apart))
        if apart[i] >= change_share:
            break
        spells[i : i + 2] = [_joined(spells[i], spells[i + 1])]
    return _sharpened(stream, spells, window_s)


def _windows(stream: _Stream, window_s: float) -> list[NDArray[np.int64]]:
    """Rows in observations of about `window_s`, cut between runs of a phase only."""
    ends = np.append(np.flatnonzero(np.diff(stream.run)) + 1, len(stream.run))
    passed = np.cumsum(stream.seconds)
    cuts, since = [], 0.0
    for end in ends:
        if passed[end - 1] - since >= window_s:
            cuts.append(int(end))
            since = float(passed[end - 1])
    if cuts and passed[-1] - since < window_s / 2:  # too little left for an observation of its own
        cuts.pop()
    return [part for part in np.split(np.arange(len(stream.run)), cuts) if len(part)]


def _spell(stream: _Stream, rows: NDArray[np.int64]) -> _Spell:
    """The formation in each phase over some instants."""
    parts = {}
    for code in np.unique(stream.phase[rows]):
        mine = rows[stream.phase[rows] == code]
        parts[int(code)] = _Part(stream, mine, _roles_of(stream, mine))
    return parts


def _roles_of(stream: _Stream, rows: NDArray[np.int64]) -> Roles:
    """Roles over some instants, from the mean places of those who were most often on the pitch together."""
    places, who = stream.places[rows], stream.who[rows]
    _, at, count = np.unique(who, axis=0, return_inverse=True, return_counts=True)
    usual = at.reshape(-1) == int(count.argmax())
    return find_roles(places, relative_places(places[usual]).mean(axis=0))


def _joined(a: _Spell, b: _Spell) -> _Spell:
    """Two spells as one, their formations pooled phase by phase."""
    return {code: _joined_part(a[code], b[code]) if code in a and code in b else (a | b)[code] for code in a | b}


def _joined_part(a: _Part, b: _Part) -> _Part:
    rows = np.concatenate([a.rows, b.rows])
    return _Part(a.stream, rows, pooled_roles(a.roles, b.roles, a.seconds, b.seconds))


def _difference(a: _Spell, b: _Spell) -> float:
    """How far two spells are apart as a share of their stretch: root mean square over the phases they share.

    Each phase counts by the time that both have of it; without a common phase they count as alike.
    """
    shared = sorted(set(a) & set(b))
    weight = np.array([1 / (1 / a[c].seconds + 1 / b[c].seconds) for c in shared])
    apart = np.array([_share(a[c].roles, b[c].roles) for c in shared])
    return float(np.sqrt((weight * apart**2).sum() / weight.sum())) if shared else 0.0


def _share(a: Roles, b: Roles) -> float:
    """Distance of two formations as a share of their mean stretch."""
    stretch = np.mean([np.hypot(*r.mean.T).mean() for r in (a, b)])
    return formation_distance(a, b) / float(stretch)


def _sharpened(stream: _Stream, spells: list[_Spell], window_s: float) -> list[_Spell]:
    """Move each bound to the end of a run of a phase, within an observation on either side, that fits best."""
    bounds, passed, at = [0], np.cumsum(stream.seconds), np.arange(len(stream.run))
    for before, after in pairwise(spells):
        cut = min(int(part.rows[0]) for part in after.values())
        last = max(int(part.rows[-1]) for part in after.values())
        rows = np.flatnonzero((np.abs(passed - passed[cut]) <= window_s) & (at > bounds[-1]) & (at < last))
        gain = np.zeros(len(rows))
        for code in set(before) & set(after):
            mine = stream.phase[rows] == code
            relative = relative_places(stream.places[rows[mine]])
            for sign, roles in ((1, before[code].roles), (-1, after[code].roles)):
                gain[mine] += sign * assign_roles(relative, roles.mean, roles.cov)[1]
        ends = np.flatnonzero(np.diff(stream.run[rows])) + 1
        if len(ends):
            cut = int(rows[ends[int(np.argmax(np.cumsum(gain)[ends - 1]))]])
        bounds.append(cut)
    return [_spell(stream, rows) for rows in np.split(at, bounds[1:]) if len(rows)]


def _parts(spells: list[_Spell], code: int, least_s: float, change_share: float) -> list[_Part]:
    """The spells of one phase; where the side changed in other phases only, its spells are joined."""
    result: list[_Part] = []
    for part in (spell[code] for spell in spells if code in spell and spell[code].seconds >= least_s):
        if result and result[-1].stream is part.stream and _share(result[-1].roles, part.roles) < change_share:
            rows = np.concatenate([result[-1].rows, part.rows])
            result[-1] = _Part(part.stream, rows, _roles_of(part.stream, rows))
        else:
            result.append(part)
    return result


# -- rows ---------------------------------------------------------------------------------------------------


def _told(part: _Part, before: _Part | None, sizes: tuple[int, ...], change_share: float) -> dict[str, object]:
    """What a row says of a phase in a spell and of how it differs from the one before."""
    stream, rows = part.stream, part.rows
    middle = stream.places[rows].mean(axis=(0, 1))
    now = {player for player, _ in part.filled}
    then = {player for player, _ in before.filled} if before else now
    more_or_fewer = before is not None and len(before.roles) != len(part.roles)
    return {
        "period": stream.period,
        "start_s": float(stream.start_s[rows[0]]),
        "end_s": float(stream.end_s[rows[-1]]),
        "players": tuple(player for player, _ in part.filled),
        "x": float(middle[0]),
        "y": float(middle[1]),
        "shape": shape_name(sizes),
        "roles": tuple(f"{player}:{role}" for player, role in part.filled),
        "changed": before is not None and (more_or_fewer or _share(before.roles, part.roles) >= change_share),
        "distance_m": formation_distance(before.roles, part.roles) if before else float("nan"),
        "seconds": part.seconds,
        "outfield": len(part.roles),
        "came_on": tuple(sorted(now - then)),
        "went_off": tuple(sorted(then - now)),
    }


def _filled(part: _Part, sizes: tuple[int, ...], ids: list[str], keepers: pd.DataFrame) -> list[tuple[str, str]]:
    """Who filled which role longest: (player, role), keeper first, then line by line from right to left."""
    stream, mean = part.stream, part.roles.mean
    names = role_names(mean, sizes)
    held = np.zeros((len(ids), len(names)))
    seconds = np.repeat(stream.seconds[part.rows], len(names))
    np.add.at(held, (stream.who[part.rows].ravel(), part.roles.role.ravel().astype(int)), seconds)
    line = np.empty(len(names), int)
    line[np.argsort(mean[:, 0], kind="stable")] = np.repeat(np.arange(len(sizes)), sizes)
    place_in_order = np.argsort(np.lexsort((mean[:, 1], line)))
    played = [p for p in range(len(ids)) if held[p].any()]
    played.sort(key=lambda p: (place_in_order[held[p].argmax()], -held[p].max(), ids[p]))
    start_s, end_s = stream.start_s[part.rows[0]], stream.end_s[part.rows[-1]]
    on = keepers[(keepers["period"] == stream.period) & (keepers["start_s"] < end_s) & (keepers["end_s"] > start_s)]
    return [(k, "GK") for k in on["player"]] + [(ids[p], names[int(held[p].argmax())]) for p in played]
