"""The index of a match: everything a selection or a chart asks, computed once, as compact arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match
from tactical_kit.match.events import KINDS, empty_events
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.instants import Goals, PhaseSpans, goals_of, score_codes, side_codes
from tactical_kit.measures.oval import pressure_on
from tactical_kit.measures.words import PHASES, SCORE_STATES
from tactical_kit.moments import Moments
from tactical_kit.pitch import ZoneGrid

__all__ = ["ACTION_KINDS", "ON_BALL_KINDS", "ActionCodes", "Frames", "MatchIndex", "index_match"]

# Events that are no action of a player in play.
_NO_ACTION = ("out", "card", "substitution", "period-start", "period-end", "offside")
ACTION_KINDS = tuple(k for k in KINDS if k not in _NO_ACTION)
ON_BALL_KINDS = ("pass", "carry", "shot", "take-on", "touch", "clearance")
# An action that answers the opponents' possession belongs to the phase it ends, not to the one it starts.
_ANSWERS = ("tackle", "interception", "block", "foul", "duel", "save")


@dataclass(frozen=True, eq=False)
class ActionCodes:
    """The actions as arrays of one value an action, A actions: what masks are made of.

    Places are in the attacking frame of the acting side, m.  `player` and `receiver` are positions in
    `MatchIndex.player_ids`, `kind` in `KINDS`, phases in `MatchIndex.phase_names`, `score` in `SCORE_STATES`,
    zones in `Pitch.named_zones()`; -1 is none.  `success` is 1, 0 or -1 for unknown.
    """

    team: NDArray[np.int8]
    kind: NDArray[np.int8]
    player: NDArray[np.int16]
    receiver: NDArray[np.int16]
    success: NDArray[np.int8]
    period: NDArray[np.int8]
    time_s: NDArray[np.float64]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    end_x: NDArray[np.float64]
    end_y: NDArray[np.float64]
    zone: NDArray[np.int16]
    end_zone: NDArray[np.int16]
    phase: NDArray[np.int8]
    opponent_phase: NDArray[np.int8]
    score: NDArray[np.int8]
    pressure: NDArray[np.float32]

    def is_kind(self, *kinds: str) -> NDArray[np.bool_]:
        """Return the mask of actions of some kinds."""
        wanted = np.zeros(len(KINDS) + 1, bool)  # the last entry answers code -1
        wanted[[KINDS.index(k) for k in kinds]] = True
        return wanted[self.kind]


@dataclass(frozen=True, eq=False)
class Frames:
    """The tracking at a few frames a second, live frames only, F frames; each stands for `frame_s` seconds.

    Parameters
    ----------
    frame : (F,) int64 ndarray
        Index of the frame in the match's tracking.
    period, time_s, timeline_s : (F,) ndarray
        When.
    team : (F,) int8 ndarray
        Side that has the ball, 0 home, 1 away, -1 nobody.
    holder : (F,) int16 ndarray
        Player on the ball as index along the tracking's P axis, -1 nobody.
    player : (F,) int16 ndarray
        The same player as position in `MatchIndex.player_ids`, -1 nobody.
    x, y : (F,) float64 ndarray
        The ball in the attacking frame of the side that has it (home side's where nobody has), m.
    phase : (F, 2) int8 ndarray
        Phase of the home and of the away side, position in `MatchIndex.phase_names`, -1 none.
    score : (F, 2) int8 ndarray
        Score state of the home and of the away side, position in `SCORE_STATES`, -1 unknown.
    pressure : (F,) float32 ndarray
        Per cent on the player on the ball; NaN where nobody is on it.
    frame_s : float
        Seconds that one frame stands for.
    """

    frame: NDArray[np.int64]
    period: NDArray[np.int8]
    time_s: NDArray[np.float64]
    timeline_s: NDArray[np.float64]
    team: NDArray[np.int8]
    holder: NDArray[np.int16]
    player: NDArray[np.int16]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    phase: NDArray[np.int8]
    score: NDArray[np.int8]
    pressure: NDArray[np.float32]
    frame_s: float

    def __len__(self) -> int:
        return len(self.frame)


@dataclass(frozen=True, eq=False)
class MatchIndex:
    """One match prepared for questions; build it with `index_match`.

    Parameters
    ----------
    match : Match
        The match.
    phases : Moments or None
        Phases of play it was built with.
    actions : DataFrame
        The events that are actions (`ACTION_KINDS`), in the attacking frame of the acting side, with
        timeline_s, phase, opponent_phase, score_state (text, "" none), zone, end_zone (index of the named
        zone, -1 none), pressure (% on the actor, NaN unknown) and possession (number of the spell).
    frames : Frames
        Decimated tracking; of length 0 without tracking.
    phase_names : tuple of str
        What the phase codes stand for.
    params : mapping
        Thresholds it was built with.
    """

    match: Match
    phases: Moments | None
    actions: pd.DataFrame
    frames: Frames
    phase_names: tuple[str, ...]
    params: Mapping[str, float]

    @cached_property
    def player_ids(self) -> tuple[str, ...]:
        """Ids of both squads in the order of the player codes."""
        return tuple(self.match.players)

    @cached_property
    def player_code(self) -> dict[str, int]:
        """Code of each player id."""
        return {p: i for i, p in enumerate(self.player_ids)}

    @cached_property
    def zones(self) -> ZoneGrid:
        """The named zones that `zone` and `end_zone` count."""
        return self.match.pitch.named_zones()

    @property
    def has_events(self) -> bool:
        """Whether the match has events."""
        return self.match.events is not None

    @property
    def has_frames(self) -> bool:
        """Whether the match has tracking."""
        return len(self.frames) > 0

    @cached_property
    def codes(self) -> ActionCodes:
        """The actions as arrays."""
        a = self.actions
        ids = pd.Index(self.player_ids)
        phases, scores = pd.Index(self.phase_names), pd.Index(SCORE_STATES)
        return ActionCodes(
            team=side_codes(a["team"], self.match),
            kind=pd.Index(KINDS).get_indexer(pd.Index(a["kind"])).astype(np.int8),
            player=ids.get_indexer(pd.Index(a["player"])).astype(np.int16),
            receiver=ids.get_indexer(pd.Index(a["receiver"])).astype(np.int16),
            success=a["success"].astype("Int8").fillna(-1).to_numpy(np.int8),
            phase=phases.get_indexer(pd.Index(a["phase"])).astype(np.int8),
            opponent_phase=phases.get_indexer(pd.Index(a["opponent_phase"])).astype(np.int8),
            score=scores.get_indexer(pd.Index(a["score_state"])).astype(np.int8),
            **{c: a[c].to_numpy() for c in (
                "period", "time_s", "x", "y", "end_x", "end_y", "zone", "end_zone", "pressure",
            )},
        )  # fmt: skip

    @cached_property
    def lost(self) -> NDArray[np.bool_]:
        """Actions that are marked as lost or failed."""
        return (self.actions["outcome"] == "lost").to_numpy() | (self.codes.success == 0)

    @cached_property
    def beaten(self) -> NDArray[np.bool_]:
        """Take-ons won that no lost tackle tells of already, by `related` of either."""
        c, table = self.codes, self.actions
        won = c.is_kind("take-on") & ((table["outcome"] == "won").to_numpy() | (c.success == 1))
        tackles = table[c.is_kind("tackle") & self.lost]
        told = table["event_id"].isin(set(tackles["related"]) - {""}) | table["related"].isin(set(tackles["event_id"]))
        return won & ~told.to_numpy()

    def __repr__(self) -> str:
        return f"<MatchIndex of {self.match!r}: {len(self.actions)} actions, {len(self.frames)} frames>"


def index_match(
    match: Match,
    phases: Moments | None = None,
    rate_hz: float = 5.0,
    answer_lookback_s: float = 0.2,
    **holder_thresholds: float,
) -> MatchIndex:
    """Prepare a match, so that every chart answers any selection in milliseconds.

    Parameters
    ----------
    match : Match
        Events, tracking or both.
    phases : Moments, optional
        Phases of play of both sides (columns team, phase, period, start_s, end_s).  Without them the
        selection of a phase leaves nothing.
    rate_hz : float, default 5
        Frames a second kept for maps of time.
    answer_lookback_s : float, default 0.2
        Tackles, interceptions, blocks, fouls, duels and saves take the phases of this many seconds earlier: the
        phase in which they were made, not the one they bring about, s.
    **holder_thresholds
        Passed on to `tactical_kit.measures.holder.ball_holder`.

    Returns
    -------
    MatchIndex

    Raises
    ------
    TacticalKitError
        `phases` without the column "phase", or a rate that is not above 0.

    Notes
    -----
    Score: goals count from the moment after the shot; own goals count for the other side; the shoot-out
    does not count.  Possession: a new spell starts when the other side makes an action with the ball, at a
    restart and at the start of a period.  Source: common practice, no source.
    """
    if not rate_hz > 0:
        raise TacticalKitError(f"rate_hz is {rate_hz!r}; expected more than 0.")
    if phases is not None and "phase" not in phases.table:
        raise TacticalKitError(f"moments of {phases.finder!r} have no column 'phase'; expected phases of play.")
    names = list(PHASES)
    if phases is not None:
        names += sorted(set(phases.table["phase"]) - set(PHASES))
    spans = [PhaseSpans(phases, team.team_id, names) for team in match.teams]
    goals = goals_of(match)
    params: dict[str, float] = {"rate_hz": rate_hz, "answer_lookback_s": answer_lookback_s}
    actions = _actions(match, spans, names, goals, answer_lookback_s)
    frames = _frames(match, spans, goals, rate_hz, holder_thresholds, params)
    return MatchIndex(match, phases, actions, frames, tuple(names), params)


def _words(names: list[str] | tuple[str, ...], codes: NDArray[np.integer]) -> pd.Series:
    return pd.Series(np.append(np.array(names, object), "")[codes]).astype("str")


def _actions(
    match: Match,
    spans: list[PhaseSpans],
    names: list[str],
    goals: Goals | None,
    lookback_s: float,
) -> pd.DataFrame:
    events = match.attacking_events if match.events is not None else empty_events()
    table = events[events["kind"].isin(ACTION_KINDS)].reset_index(drop=True)
    period, time_s = table["period"].to_numpy(), table["time_s"].to_numpy()
    side = side_codes(table["team"], match)
    asked = np.where(table["kind"].isin(_ANSWERS), time_s - lookback_s, time_s)
    both = np.column_stack([s.at(period, asked) for s in spans])
    score = score_codes(goals, period, time_s)
    row = np.arange(len(table))
    own, other = np.maximum(side, 0), np.maximum(1 - side, 0) % 2
    table["timeline_s"] = match.clock.timeline(period, time_s)
    table["phase"] = _words(names, np.where(side >= 0, both[row, own], -1))
    table["opponent_phase"] = _words(names, np.where(side >= 0, both[row, other], -1))
    table["score_state"] = _words(SCORE_STATES, np.where(side >= 0, score[row, own], -1))
    table["zone"] = match.pitch.zone_of(*match.pitch.onto(table["x"], table["y"]))
    table["end_zone"] = match.pitch.zone_of(*match.pitch.onto(table["end_x"], table["end_y"]))
    table["pressure"] = _action_pressure(match, table, side)
    table["possession"] = _possession(table, side)
    return table


def _possession(table: pd.DataFrame, side: NDArray[np.int8]) -> NDArray[np.int32]:
    with_ball = table["kind"].isin([*ON_BALL_KINDS, "interception", "recovery", "claim"]).to_numpy()
    who = pd.Series(np.where(with_ball & (side >= 0), side, np.nan)).ffill().fillna(-1).to_numpy()
    new = np.ones(len(table), bool)
    new[1:] = (who[1:] != who[:-1]) | (table["set_play"].to_numpy()[1:] != "")
    new[1:] |= np.diff(table["period"].to_numpy()) != 0
    return (np.cumsum(new) - 1).astype(np.int32)


def _action_pressure(match: Match, table: pd.DataFrame, side: NDArray[np.int8]) -> NDArray[np.float32]:
    """Pressure on the actor at the frame nearest to his action, by his tracked place if there is one."""
    pressure = np.full(len(table), np.nan, np.float32)
    tracking = match.tracking
    if tracking is None or not len(tracking) or not len(table):
        return pressure
    frame = tracking.indices_at(table["period"].to_numpy(), table["time_s"].to_numpy())
    rows = np.flatnonzero((frame >= 0) & (side >= 0) & table["kind"].isin(ON_BALL_KINDS).to_numpy())
    frame, side = frame[rows], side[rows]
    sign = match.attack_signs(table["team"].to_numpy()[rows], table["period"].to_numpy()[rows])[:, None]
    column = pd.Index(tracking.players).get_indexer(pd.Index(table["player"].iloc[rows]))
    place = np.where(column[:, None] >= 0, tracking.xy[frame, column], np.nan)
    said = table[["x", "y"]].to_numpy()[rows] * sign  # back into the pitch frame
    place = np.where(np.isfinite(place), place, said).astype(np.float32)
    pressure[rows] = _pressure_of_sides(match, frame, side, place, sign[:, 0])
    return pressure


def _pressure_of_sides(
    match: Match,
    frame: NDArray[np.int64],
    side: NDArray[np.int8],
    place: NDArray[np.float32],
    sign: NDArray[np.int8],
) -> NDArray[np.float32]:
    """Pressure on places of players of `side` (0 or 1) by the opponents in those frames; pitch frame."""
    tracking = match.tracking
    assert tracking is not None
    result = np.full(len(frame), np.nan, np.float32)
    goal = np.zeros((len(frame), 2), np.float32)
    goal[:, 0] = sign * match.pitch.half_length
    for team in (0, 1):
        mine = np.flatnonzero(side == team)
        opponents = np.flatnonzero(tracking.team_index != team)
        result[mine] = pressure_on(place[mine], goal[mine], tracking.xy[np.ix_(frame[mine], opponents)])
    return result


def _frames(
    match: Match,
    spans: list[PhaseSpans],
    goals: Goals | None,
    rate_hz: float,
    holder_thresholds: dict[str, float],
    params: dict[str, float],
) -> Frames:
    tracking = match.tracking
    if tracking is None:
        none = np.empty(0)
        pair = np.empty((0, 2), np.int8)
        return Frames(
            none.astype(np.int64), none.astype(np.int8), none, none, none.astype(np.int8), none.astype(np.int16),
            none.astype(np.int16), none, none, pair, pair, none.astype(np.float32), 1 / rate_hz,
        )  # fmt: skip
    held = ball_holder(match, **holder_thresholds)
    params.update(held.params)
    step = max(round(tracking.rate_hz / rate_hz), 1)
    kept = [np.arange(s.start, s.stop, step) for s in tracking.segments]
    frame = np.concatenate(kept) if kept else np.empty(0, np.int64)
    frame = frame[tracking.alive[frame]]
    period, time_s = tracking.period[frame], tracking.time_s[frame]
    team, holder = held.team[frame], held.column[frame]
    home = np.zeros(len(frame), np.int8)
    for p in match.periods:
        home[period == p.number] = p.home_attacks
    sign = np.where(team == 1, -home, home).astype(np.int8)
    pressure = np.full(len(frame), np.nan, np.float32)
    on_ball = np.flatnonzero(holder >= 0)
    place = tracking.xy[frame[on_ball], holder[on_ball]]
    side = tracking.team_index[holder[on_ball]]
    pressure[on_ball] = _pressure_of_sides(match, frame[on_ball], side, place, sign[on_ball])
    order = pd.Index(tuple(match.players)).get_indexer(pd.Index(tracking.players))
    return Frames(
        frame=frame,
        period=period,
        time_s=time_s,
        timeline_s=match.clock.timeline(period, time_s),
        team=team,
        holder=holder,
        player=np.append(order, -1).astype(np.int16)[holder],
        x=tracking.ball[frame, 0] * sign.astype(float),
        y=tracking.ball[frame, 1] * sign.astype(float),
        phase=np.column_stack([s.at(period, time_s) for s in spans]),
        score=score_codes(goals, period, time_s),
        pressure=pressure,
        frame_s=step / tracking.rate_hz,
    )
