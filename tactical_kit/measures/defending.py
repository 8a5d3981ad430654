"""Defending from events: defensive actions by zone, and passes allowed for each of them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.measures.index import MatchIndex
from tactical_kit.measures.selection import Selection, describe_gaps
from tactical_kit.measures.tables import grid_columns, typed_table
from tactical_kit.pitch import ZoneGrid

__all__ = [
    "DEFENSIVE_ACTIONS", "PPDA_ACTIONS", "DefensiveZones", "PassesPerDefensiveAction", "defensive_actions",
    "defensive_zones", "passes_per_defensive_action",
]  # fmt: skip

DEFENSIVE_ACTIONS = (
    "tackle", "challenge lost", "interception", "foul", "block", "clearance", "recovery", "duel",
)  # fmt: skip
PPDA_ACTIONS = ("tackle", "challenge lost", "interception", "foul")
_COLUMNS: dict[str, str] = {
    "event_id": "str",
    "action": "str",  # one of DEFENSIVE_ACTIONS
    "period": "int8",
    "time_s": "float64",
    "team": "str",  # the side that defends
    "player": "str",  # "" where only the opponent's event tells of it
    "x": "float64",  # attacking frame of the side that defends, m
    "y": "float64",
}
_ZONE_COLUMNS: dict[str, str] = {
    "zone": "int64", "name": "str", "x": "float64", "y": "float64", "actions": "int64",
}  # fmt: skip
_EDGE_M = 1e-9  # a point on the limit belongs to the zone, whatever the last bit says


@dataclass(frozen=True, eq=False)
class PassesPerDefensiveAction:
    """How many passes a side allows for each action against the ball.

    Parameters
    ----------
    value : float
        Passes / actions; NaN if there is no action: then it is undefined, neither 0 nor endless.
    passes : int
        The opponents' passes in the zone.
    actions : int
        The side's defensive actions in the zone.
    by_action : dict
        The actions by kind.
    from_x_m : float
        The zone: x >= this in the attacking frame of the defending side, m.
    n : int
        Same as `actions`.
    note : str
        What was left out, or why there is little; "" if nothing.
    selection : Selection
        What was asked.
    team : str
        Id of the side that defends.
    params : dict
        zone_share, actions, passes.
    """

    value: float
    passes: int
    actions: int
    by_action: dict[str, int]
    from_x_m: float
    n: int
    note: str
    selection: Selection
    team: str
    params: dict[str, object]


@dataclass(frozen=True, eq=False)
class DefensiveZones:
    """Defensive actions by zone; `zones`: zone, name, x, y, actions, and one column for each kind of action."""

    zones: pd.DataFrame
    grid: ZoneGrid
    n: int
    note: str
    selection: Selection
    params: dict[str, object]


def defensive_actions(
    index: MatchIndex,
    selection: Selection | None = None,
    actions: Iterable[str] = PPDA_ACTIONS,
    side: str = "own",
) -> pd.DataFrame:
    """List the actions against the ball, in the attacking frame of the side that defends.

    Parameters
    ----------
    index : MatchIndex
        Needs events; without any the table is empty.
    selection : Selection, optional
        Default the whole match.
    actions : iterable of str, default tackle, challenge lost, interception, foul
        Which ones, of `DEFENSIVE_ACTIONS`.
    side : {"own", "opponent"}
        Whose: of the selection's side, or of the other side meanwhile.

    Returns
    -------
    DataFrame
        event_id, action, period, time_s, team, player, x, y; in the order of time.

    Raises
    ------
    UnknownNameError
        An action that is none of `DEFENSIVE_ACTIONS`.

    Notes
    -----
    tackle: a tackle that is not marked as lost.  challenge lost: a tackle marked as lost, and a take-on that the
    opponent won, unless a lost tackle names it (or is named by it) as related; its place is the take-on's.
    The other words are kinds of events; a duel counts won or lost.  Pressure is a matter of the player on the ball
    and does not narrow these actions; a take-on names no defender, so with `players` it does not count.
    """
    found = find_defensive(index, selection or Selection(), tuple(actions), side)
    c, table, rows = index.codes, index.actions, found.rows
    ids = np.array([t.team_id for t in index.match.teams] + [""], object)
    team = np.where(found.of_opponent & (c.team[rows] >= 0), 1 - c.team[rows], c.team[rows])
    player = np.where(found.of_opponent, "", table["player"].to_numpy(object)[rows])
    return typed_table(_COLUMNS, {
        "event_id": table["event_id"].to_numpy(object)[rows], "action": np.array(found.actions, object)[found.action],
        "period": c.period[rows], "time_s": c.time_s[rows], "team": ids[team], "player": player,
        "x": found.x, "y": found.y,
    })  # fmt: skip


@dataclass(frozen=True, eq=False)
class FoundDefensive:
    """Defensive actions as arrays: row of the action, which of `actions`, whether only the opponent's event tells of
    it, and where in the attacking frame of the side that defends, m."""

    actions: tuple[str, ...]
    rows: NDArray[np.int64]
    action: NDArray[np.int64]
    of_opponent: NDArray[np.bool_]
    x: NDArray[np.float64]
    y: NDArray[np.float64]


def find_defensive(index: MatchIndex, selection: Selection, actions: tuple[str, ...], side: str) -> FoundDefensive:
    """Find the rows that `defensive_actions` lists, in the order of time."""
    for name in actions:
        check_choice("defensive action", name, DEFENSIVE_ACTIONS)
    selection.check_names(index.match, index.phase_names)
    selection = selection.replace(under_pressure=None)
    c = index.codes
    mine = selection.action_mask(index, side)
    found: list[tuple[int, NDArray[np.int64], bool]] = []
    for number, name in enumerate(actions):
        if name == "challenge lost":
            found.append((number, np.flatnonzero(mine & c.is_kind("tackle") & index.lost), False))
            if not (selection.players and side == "own"):
                meant = selection.replace(players=()).action_mask(index, "opponent" if side == "own" else "own")
                found.append((number, np.flatnonzero(meant & index.beaten), True))
        else:
            kind = c.is_kind(name)
            found.append((number, np.flatnonzero(mine & (kind & ~index.lost if name == "tackle" else kind)), False))
    rows = np.concatenate([np.empty(0, np.int64), *(r for _, r, _ in found)])
    sizes = [len(r) for _, r, _ in found]
    order = np.argsort(rows, kind="stable")
    action = np.repeat(np.array([n for n, _, _ in found], np.int64), sizes)[order]
    of_opponent = np.repeat(np.array([o for _, _, o in found], bool), sizes)[order]
    rows = rows[order]
    sign = np.where(of_opponent, -1.0, 1.0)
    return FoundDefensive(actions, rows, action, of_opponent, c.x[rows] * sign, c.y[rows] * sign)


def defensive_zones(
    index: MatchIndex,
    selection: Selection | None = None,
    grid: ZoneGrid | None = None,
    actions: Iterable[str] = DEFENSIVE_ACTIONS,
) -> DefensiveZones:
    """Count a side's defensive actions zone by zone, in its attacking frame.

    Parameters as in `defensive_actions`; `grid` defaults to the fifteen named zones.
    """
    selection = selection or Selection()
    wanted = tuple(actions)
    grid = grid or index.match.pitch.named_zones()
    found = find_defensive(index, selection, wanted, "own")
    zone = grid.zone_of(*index.match.pitch.onto(found.x, found.y)).astype(np.int64)
    inside = zone >= 0
    count = np.zeros((len(grid), len(wanted)), np.int64)
    np.add.at(count, (zone[inside], found.action[inside]), 1)
    names, x, y = grid_columns(grid)
    types = {**_ZONE_COLUMNS, **dict.fromkeys(wanted, "int64")}
    values = {"zone": np.arange(len(grid)), "name": names, "x": x, "y": y, "actions": count.sum(axis=1)}
    table = typed_table(types, values | {name: count[:, i] for i, name in enumerate(wanted)})
    n = int(inside.sum())
    notes = [describe_gaps(index, selection)] + ([] if n else ["no defensive action fits the selection"])
    return DefensiveZones(table, grid, n, "; ".join(filter(None, notes)), selection, {"actions": wanted})


def passes_per_defensive_action(
    index: MatchIndex,
    selection: Selection | None = None,
    zone_share: float = 0.6,
    actions: Iterable[str] = PPDA_ACTIONS,
    passes: str = "completed",
    few: int = 10,
) -> PassesPerDefensiveAction:
    """Divide the passes the opponents may play in their own part of the pitch by a side's actions against them.

    A low number means that the side lets them play little.

    Parameters
    ----------
    index : MatchIndex
        Needs events.
    selection : Selection, optional
        The side is the one that *defends*; its phases (say a high press), time, score and place apply to the
        opponents' passes as well, players only to its own actions, pressure to neither.  Without a team the home
        side.
    zone_share : float, default 0.6
        Part of the pitch counted, measured from the opponents' goal line, limit included.
    actions : iterable of str, default tackle, challenge lost, interception, foul
        What counts as a defensive action, of `DEFENSIVE_ACTIONS`.
    passes : {"completed", "all"}
        Which of the opponents' passes count.
    few : int, default 10
        With fewer actions than this the note warns.

    Returns
    -------
    PassesPerDefensiveAction

    Raises
    ------
    UnknownNameError
        An unknown action or word for `passes`, or a name in the selection that the match does not know.
    TacticalKitError
        `zone_share` not above 0 and at most 1.

    Notes
    -----
    Pages disagree on the zone, on the passes and on the duels that count: compare only numbers made alike.
    Source: after C. Trainor 2014 (essay), read at second hand; see `defensive_actions` for each action.
    """
    selection = selection or Selection()
    check_choice("passes", passes, ("completed", "all"))
    if not 0 < zone_share <= 1:
        raise TacticalKitError(f"zone_share is {zone_share!r}; expected a part of the pitch, above 0 and at most 1.")
    wanted = tuple(actions)
    match = index.match
    team = match.team(selection.team) if selection.team is not None else match.home
    asked = selection.replace(team=team.team_id)
    pitch = match.pitch
    from_x = -pitch.half_length + (1 - zone_share) * pitch.length_m
    found = find_defensive(index, asked, wanted, "own")
    count = np.bincount(found.action[found.x >= from_x - _EDGE_M], minlength=len(wanted))
    by_action = {name: int(count[i]) for i, name in enumerate(wanted)}
    c = index.codes
    theirs = asked.action_mask(index, "opponent") & c.is_kind("pass") & (-c.x >= from_x - _EDGE_M)
    if passes == "completed":
        theirs &= c.success == 1
    allowed, made = int(theirs.sum()), int(sum(by_action.values()))
    notes = [] if selection.team is not None else [f"no side was chosen: {team.name} defends"]
    notes += [] if index.has_events else ["passes per defensive action need events"]
    notes.append(describe_gaps(index, selection))
    if not made:
        notes.append("no defensive action in the zone: undefined")
    elif made < few:
        notes.append(f"only {made} defensive actions: rough")
    return PassesPerDefensiveAction(
        value=allowed / made if made else math.nan,
        passes=allowed,
        actions=made,
        by_action=by_action,
        from_x_m=from_x,
        n=made,
        note="; ".join(filter(None, notes)),
        selection=selection,
        team=team.team_id,
        params={"zone_share": zone_share, "actions": wanted, "passes": passes},
    )
