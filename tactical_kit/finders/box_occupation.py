"""Box occupation: who is in the penalty area when a cross or a cut-back comes in."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.finders.context import possession_at
from tactical_kit.finders.registry import finder
from tactical_kit.match import Match
from tactical_kit.match.events import SET_PLAYS
from tactical_kit.measures.box import BOX_ZONES, box_zone, delivery_kind, zone_counts
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.sides import sides_at
from tactical_kit.moments import Column, Moments
from tactical_kit.phases import find_possessions
from tactical_kit.phases.possession import ACTION_KINDS

__all__ = ["COLUMNS", "find_box_occupation"]

COLUMNS: dict[str, Column] = {
    "delivery": Column("str", "cross or cut-back"),
    "passer": Column("str", "who plays it"),
    "target": Column("str", "team-mate it reaches"),
    "side": Column("str", "left or right, seen by the attackers"),
    "set_play": Column("str", "the restart, if it is one"),
    "flight_s": Column("float64", "from the strike until it arrives or is cut off", "s"),
    "n_for": Column("float64", "attackers in the box when it arrives, the passer left out", short="attackers"),
    "n_against": Column("float64", "defenders in the box when it arrives, the keeper left out", short="defenders"),
    "surplus": Column("float64", "attackers less defenders in the box"),
    "near_post": Column("float64", "attackers at the near post"),
    "in_front": Column("float64", "attackers in front of goal, between the posts"),
    "far_post": Column("float64", "attackers at the far post"),
    "cut_back_zone": Column("float64", "attackers in the box behind the penalty mark"),
    "near_post_against": Column("float64", "defenders at the near post"),
    "in_front_against": Column("float64", "defenders in front of goal"),
    "far_post_against": Column("float64", "defenders at the far post"),
    "cut_back_zone_against": Column("float64", "defenders in the box behind the penalty mark"),
    "edge": Column("float64", "attackers waiting in front of the box"),
    "n_for_struck": Column(
        "float64", "attackers in the box when it is struck, the passer left out", short="attackers when struck"
    ),
    "n_against_struck": Column("float64", "defenders in the box when it is struck", short="defenders when struck"),
    "late_arrivals": Column("float64", "attackers outside the box at the strike who are in it on arrival"),
    "end_zone": Column("str", "zone of the box in which it arrives"),
    "outcome": Column(
        "str",
        "goal, shot, won (it reaches a team-mate), kept (it does not, but the side has it soon after), the restart "
        "that the side gets (corner, throw-in, free-kick, penalty), keeper, out, offside, lost",
    ),
    "estimated": Column("bool", "read from where the ball went, not from events"),
}
_ZONE_COLUMNS = ("near_post", "in_front", "far_post", "cut_back_zone")


@finder(
    "box occupation",
    needs=("events or tracking", "tracking or stills"),
    finds="A cross or a cut-back: who attacks the box, in which zones, who arrives late, and against how many.",
    columns=COLUMNS,
)
def find_box_occupation(
    match: Match,
    *,
    set_plays: bool = False,
    shot_s: float = 3.0,
    edge_m: float = 8.0,
    late_s: float = 0.6,
    cut_back_m: float = 16.5,
    back_m: float = 2.0,
    restart_s: float = 0.5,
    keeper_s: float = 0.3,
) -> Moments:
    """Find each cross and cut-back and count who is in the box, on both sides.

    Parameters
    ----------
    match : Match
        With tracking, or with events and stills within a second of the delivery.
    set_plays : bool, default False
        Include corners, free kicks and throw-ins.
    shot_s : float, default 3
        A shot of the side, a ball that it picks up or that goes out to its gain at most this long after the ball has
        arrived comes of it, s.
    keeper_s : float, default 0.3
        It is the keeper's if he claims or saves it at most this long after it has arrived, s.
    edge_m : float, default 8
        The edge: at most this far in front of the penalty area and no wider than it, m.
    late_s : float, default 0.6
        Who comes into the box at most this long after the ball has arrived still arrives, late, s.
    cut_back_m, back_m : float, default 16.5 and 2
        Tracking alone: a cut-back is played at most this far from the goal line and goes back from it by at least
        so much, m; see `tactical_kit.measures.box.delivery_kind`.
    restart_s : float, default 0.5
        Tracking alone: the first pass of a possession that begins with a corner, a free kick or a throw-in is that
        restart if it is struck at most this long after the ball came into play, s.

    Returns
    -------
    Moments
        Finder "box occupation"; from the strike until the ball arrives, or until the late ones are there; team attacks;
        players: the passer, then the attackers in the box on arrival, the nearest to the goal first; x, y where it is
        struck.  Columns as in `COLUMNS`; NaN where no frame or still is near.

    Raises
    ------
    MissingDataError
        Events alone, or stills alone.

    Notes
    -----
    Events name crosses and cut-backs; if none of the passes of a match is named so, or there are no events, they are
    told by where the ball came from and went, and restarts by where the possession began (`estimated`). The four
    zones tile the box, so that their counts add up to `n_for`. Arrival is when a player has the ball, or when it is
    blocked or cut off on its way.
    Source: common practice, no source.
    """
    params = dict(
        set_plays=set_plays, shot_s=shot_s, edge_m=edge_m, late_s=late_s, cut_back_m=cut_back_m, back_m=back_m,
        restart_s=restart_s, keeper_s=keeper_s,
    )  # fmt: skip
    if match.instants is None:
        match.need_tracking("Who is in the box", "Stills beside the events would do, too.")
    balls = _deliveries(match, cut_back_m, back_m, restart_s)
    if not set_plays:
        balls = balls[balls["set_play"] == ""]
    balls = balls.reset_index(drop=True)
    numbers = _occupation(match, balls, edge_m, late_s)
    duration = np.array([match.clock[int(p)].duration_s for p in balls["period"]], float)
    arrives = np.fmax(balls["end_s"].to_numpy(), balls["time_s"].to_numpy())
    end_x, end_y = match.pitch.onto(balls["end_x"], balls["end_y"])
    zone = box_zone(end_x, end_y, balls["y"], match.pitch)
    zone[balls["y"].isna() & (zone % 2 == 0)] = -1  # near or far post
    x, y = match.pitch.onto(balls["x"], balls["y"])
    rows = pd.DataFrame(
        {
            "period": balls["period"],
            "start_s": balls["time_s"],
            "end_s": np.maximum(np.minimum(arrives + late_s, duration), balls["time_s"]),
            "team": balls["team"],
            "x": x,
            "y": y,
            "delivery": balls["delivery"],
            "passer": balls["player"],
            "target": balls["receiver"],
            "side": np.where(np.isnan(y), "", np.where(y >= 0, "left", "right")),
            "set_play": balls["set_play"],
            "flight_s": arrives - balls["time_s"].to_numpy(),
            **numbers,
            "end_zone": np.array([*BOX_ZONES, ""], dtype=object)[zone],
            "outcome": _outcomes(match, balls, arrives, shot_s, keeper_s),
            "estimated": balls["estimated"],
        }
    )
    return Moments.build("box occupation", rows, COLUMNS, params, match.match_id)


def _deliveries(match: Match, cut_back_m: float, back_m: float, restart_s: float) -> pd.DataFrame:
    """Passes that are crosses or cut-backs, with the column `delivery`."""
    passes = pass_table(match)
    named = passes["detail"].isin(["cross", "cut-back"])
    if named.any() or not len(passes):
        return passes[named].assign(delivery=passes["detail"][named])
    x, y, end_x, end_y = (passes[c].to_numpy() for c in ("x", "y", "end_x", "end_y"))
    kind = delivery_kind(x, y, end_x, end_y, match.pitch, cut_back_m=cut_back_m, back_m=back_m)
    told = kind != ""
    found = passes.assign(delivery=kind, estimated=True)
    if passes["estimated"].any():
        found["set_play"] = _restarts(match, passes, restart_s)
    return found[told]


def _restarts(match: Match, passes: pd.DataFrame, restart_s: float) -> NDArray[np.object_]:
    """Which restart each pass read from the tracking is, "" for none."""
    spells = find_possessions(match).table
    spell = possession_at(match, passes["period"], passes["time_s"])
    first = np.append(True, spell[1:] != spell[:-1])
    known = np.maximum(spell, 0)
    soon = passes["time_s"].to_numpy() - spells["start_s"].to_numpy()[known] <= restart_s + 1e-6
    began = spells["began"].to_numpy(object)[known]
    restart = first & (spell >= 0) & soon & np.isin(began, SET_PLAYS)
    return np.where(restart, began, "").astype(object)


def _occupation(match: Match, balls: pd.DataFrame, edge_m: float, late_s: float) -> dict[str, object]:
    """Who is in the box at the strike and on arrival; one value a delivery."""
    n, pitch = len(balls), match.pitch
    names = [c for c in COLUMNS if COLUMNS[c].dtype == "float64" and c != "flight_s"]
    numbers: dict[str, NDArray[np.float64]] = {c: np.full(n, np.nan) for c in names}
    players: list[tuple[str, ...]] = [(p,) if p else () for p in balls["player"]]
    instants = match.instants
    assert instants is not None
    period = balls["period"].to_numpy()
    struck_at, arrives = balls["time_s"].to_numpy(), np.fmax(balls["end_s"].to_numpy(), balls["time_s"].to_numpy())
    struck, arrived, later = (instants.indices_at(period, t) for t in (struck_at, arrives, arrives + late_s))
    for side in match.teams:
        rows = np.flatnonzero(balls["team"] == side.team_id)
        before, after, late = (sides_at(match, f[rows], side.team_id) for f in (struck, arrived, later))
        from_y = balls["y"].to_numpy()[rows, None]
        ids = np.array(after.own_ids, dtype=object)[~after.own_keeper]
        mate = ids[None, :] != balls["player"].to_numpy(object)[rows, None]
        own = after.own_outfield
        zone = np.where(mate, box_zone(own[..., 0], own[..., 1], from_y, pitch), -1)
        others = after.other_outfield
        zone_against = box_zone(others[..., 0], others[..., 1], from_y, pitch)
        seen = np.isfinite(own[..., 0]).any(axis=1)
        in_box = zone >= 0
        was = pitch.in_penalty_area(before.own_outfield[..., 0], before.own_outfield[..., 1])
        comes = pitch.in_penalty_area(late.own_outfield[..., 0], late.own_outfield[..., 1])
        known = np.isfinite(before.own_outfield[..., 0])
        front = (own[..., 0] >= pitch.penalty_area_x - edge_m) & (own[..., 0] < pitch.penalty_area_x)
        front &= np.abs(own[..., 1]) <= pitch.penalty_area_y
        defended = pitch.in_penalty_area(before.other_outfield[..., 0], before.other_outfield[..., 1])
        counted = {
            "n_for": in_box,
            "n_against": zone_against >= 0,
            "edge": front & mate,
            "n_for_struck": was & mate,
            "n_against_struck": defended,
            "late_arrivals": (in_box | comes) & mate & ~was & known,
        }
        for column, mask in counted.items():
            numbers[column][rows] = np.where(seen, mask.sum(axis=1), np.nan)
        for column, own_count, count in zip(_ZONE_COLUMNS, zone_counts(zone).T, zone_counts(zone_against).T):
            numbers[column][rows] = np.where(seen, own_count, np.nan)
            numbers[f"{column}_against"][rows] = np.where(seen, count, np.nan)
        # One still cannot tell who came in between.
        numbers["late_arrivals"][rows[struck[rows] == arrived[rows]]] = np.nan
        for row, there, place in zip(rows, in_box, own):
            to_goal = np.hypot(place[:, 0] - pitch.goal[0], place[:, 1])
            order = np.argsort(np.where(there, to_goal, np.inf), kind="stable")[: int(there.sum())]
            players[row] += tuple(ids[order])
    for column in ("near_post", "far_post", "near_post_against", "far_post_against"):
        numbers[column][np.isnan(balls["y"].to_numpy())] = np.nan  # which post is the near one is not known
    numbers["surplus"] = numbers["n_for"] - numbers["n_against"]
    return {"players": players, **numbers}


def _outcomes(
    match: Match, balls: pd.DataFrame, arrives: NDArray[np.float64], shot_s: float, keeper_s: float
) -> NDArray[np.object_]:
    """What came of each delivery: a shot soon after, or whose ball it was."""
    lost = balls["outcome"].map({"out": "out", "offside": "offside"}).fillna("lost")
    result = np.where(balls["complete"], "won", lost.to_numpy(object)).astype(object)
    if match.events is None:
        return result
    events = match.events
    key = events["period"].to_numpy(float) * 1e5 + events["time_s"].to_numpy()
    base = balls["period"].to_numpy(float) * 1e5
    shots, own_goals = ((events["kind"] == "shot").to_numpy(), (events["detail"] == "own-goal").to_numpy())
    first = np.searchsorted(key, base + balls["time_s"].to_numpy() + 1e-6)
    soon = np.searchsorted(key, base + arrives + keeper_s + 1e-6)
    last = np.searchsorted(key, base + arrives + shot_s + 1e-6)
    kind, team, goal = (events[c].to_numpy(object) for c in ("kind", "team", "outcome"))
    for i, side in enumerate(balls["team"].to_numpy(object)):
        mine = [k for k in range(first[i], last[i]) if shots[k] and (team[k] == side) != own_goals[k]]
        if mine:
            result[i] = "goal" if any(goal[k] == "goal" for k in mine) else "shot"
        elif result[i] == "lost" and any(
            kind[k] in ("claim", "save") and team[k] != side for k in range(first[i], soon[i])
        ):
            result[i] = "keeper"
        elif result[i] == "lost":
            result[i] = _next_ball(events, side, range(first[i], last[i]))
    return result


def _next_ball(events: pd.DataFrame, side: str, rows: range) -> str:
    """Whose the ball is next, where it did not reach a team-mate: kept, the restart the side gets, or lost."""
    for k in rows:
        event = events.iloc[k]
        if event["kind"] in ("out", "foul"):
            later = events.iloc[k + 1 :]
            restarts = later[(later["set_play"] != "") & (later["period"] == event["period"])]
            ours = len(restarts) > 0 and restarts["team"].iloc[0] == side
            return str(restarts["set_play"].iloc[0]) if ours else "lost"
        if event["kind"] in ACTION_KINDS and event["kind"] != "tackle":
            return "kept" if event["team"] == side else "lost"
    return "lost"
