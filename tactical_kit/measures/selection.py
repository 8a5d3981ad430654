"""A selection: which part of a match a chart speaks of, in words, as a short text and as masks."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from dataclasses import replace as replace_fields
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.errors import UnknownNameError, check_choice, suggest
from tactical_kit.match import Match
from tactical_kit.measures.index import ON_BALL_KINDS, MatchIndex
from tactical_kit.measures.selection_text import (
    CONDITIONS,
    DEFAULT_PRESSURE_PCT,
    Area,
    Segment,
    as_area,
    as_number,
    as_segment,
    as_set,
    condition_words,
    read_text,
    selection_words,
    write_text,
)  # fmt: skip
from tactical_kit.measures.words import IN_PHASES, OUT_PHASES, PHASES, SCORE_STATES

__all__ = ["CONDITIONS", "Selection", "count_conditions", "describe_gaps"]

_SETS = ("phases", "opponent_phases", "score_states", "zones", "players")


@dataclass(frozen=True)
class Selection:
    """Conditions that an action or a frame must all meet; without any it is the whole match.

    Parameters
    ----------
    team : str, optional
        The side that the selection is about: id, name, "home" or "away".
    segment : tuple of (period, start_s, end_s), optional
        Half-open spans, seconds from the start of the period; one span may be given bare.  `math.inf` as
        the end is the end of the period.
    phases : frozenset of str
        Phases of the side itself; several mean any of them.
    opponent_phases : frozenset of str
        Phases of the other side at the same instant.
    zones : frozenset of str
        Named zones (`Pitch.named_zones`) in which the action starts, or the ball is, in the attacking frame
        of the side.  Up to 3 m beyond a line (a throw-in) counts as on it; so in `area`.
    area : (x0, y0, x1, y1), optional
        A rectangle in the same frame, m, borders included.
    players : frozenset of str
        Ids or names.  An action counts if one of them makes it or receives it; a frame if he is on the ball.
    score_states : frozenset of str
        "leading", "level", "trailing", seen by the side.
    under_pressure : bool, optional
        True: at least `pressure_pct` on the player on the ball; False: less.  What has no known pressure
        (no tracking, nobody on the ball) meets neither.
    pressure_pct : float, default 30
        The threshold of `under_pressure`, %.  One opponent right in the way at 4.5 m is 29.7 %.

    Raises
    ------
    TacticalKitError
        A span or rectangle that is none, an unknown score state.

    Notes
    -----
    Names are compared with a match by `check`.  Any iterable or a single text is taken for a set.

    >>> s = Selection(team="home", phases="build-up", segment=(1, 0, 900))
    >>> s.to_text()
    'team=home;phase=build-up;time=1:0:900'
    >>> Selection.from_text(s.to_text()) == s
    True
    """

    team: str | None = None
    segment: Segment | None = None
    phases: frozenset[str] = frozenset()
    opponent_phases: frozenset[str] = frozenset()
    zones: frozenset[str] = frozenset()
    area: Area | None = None
    players: frozenset[str] = frozenset()
    score_states: frozenset[str] = frozenset()
    under_pressure: bool | None = None
    pressure_pct: float = DEFAULT_PRESSURE_PCT

    def __post_init__(self) -> None:
        for name in _SETS:
            object.__setattr__(self, name, as_set(getattr(self, name)))
        for state in self.score_states:
            check_choice("score state", state, SCORE_STATES)
        if self.segment is not None:
            object.__setattr__(self, "segment", as_segment(self.segment))
        if self.area is not None:
            object.__setattr__(self, "area", as_area(self.area))
        if self.under_pressure is not None:
            object.__setattr__(self, "under_pressure", bool(self.under_pressure))
        object.__setattr__(self, "pressure_pct", as_number(self.pressure_pct, "pressure_pct", finite=True))

    def replace(self, **changes: Any) -> Selection:
        """Return a copy with some conditions changed.

        >>> Selection(team="home").replace(team=None) == Selection()
        True
        """
        known = [f.name for f in fields(self)]
        for name in changes:
            if name not in known:
                raise UnknownNameError(
                    f"a selection has no {name!r}; expected {', '.join(known)}.{suggest(name, known)}"
                )
        return replace_fields(self, **changes)

    def turned(self, match: Match) -> Selection:
        """Return the same instants and places told from the other bench.

        The other side is the team, its phases are the former opponents', zones, area and score are turned; players
        and pressure, which speak of whoever has the ball, stay.  "Mill in a high press" becomes "Harbour, against a
        high press": ask for that to see what the opponents do with the ball meanwhile.
        """
        grid = match.pitch.named_zones()
        names = grid.names()
        area = self.area and (-self.area[2], -self.area[3], -self.area[0], -self.area[1])
        return self.replace(
            team=match.opponent(self.team).team_id if self.team is not None else None,
            phases=self.opponent_phases,
            opponent_phases=self.phases,
            zones=[names[-1 - grid.index_of(zone)] for zone in self.zones],  # half a turn reverses the order
            area=area,
            score_states=[SCORE_STATES[-1 - SCORE_STATES.index(state)] for state in self.score_states],
        )

    @property
    def active(self) -> tuple[str, ...]:
        """Names of the conditions that are set, in the order in which they are spoken."""
        empty = Selection()
        return tuple(name for name in CONDITIONS if getattr(self, name) != getattr(empty, name))

    def to_text(self) -> str:
        """Return the short text: key=value joined by ";", safe in an address, a file name or a cell.

        Several values are joined by "+".  A space is written "_", odd characters as in a web address; "all" is
        the whole match.
        """
        return write_text(self)

    @classmethod
    def from_text(cls, text: str) -> Selection:
        """Read the short text back; raises one `TacticalKitError` that lists every fault and the known keys."""
        return cls(**read_text(text))

    def words(self, match: Match) -> str:
        """Return the selection as a coach would say it.

        As "Harbour Town in build-up, first half 00:00-30:00, against a high press, level, under pressure,
        through Joe Doe"; "both sides, the whole match" without a condition.
        """
        return selection_words(self, match)

    # -- against a match ------------------------------------------------------------------------------

    def check(self, match: Match, phase_names: Iterable[str] = PHASES) -> Selection:
        """Return the selection itself if the match knows every name in it.

        Raises
        ------
        UnknownNameError
            A team, player, phase or zone that is not there, with the near spelling.
        MissingDataError
            `under_pressure` without tracking, score or players without anything to tell them.
        TacticalKitError
            A period that was not played.
        """
        self.check_names(match, phase_names)
        if self.under_pressure is not None:
            match.need_tracking("Pressure on the player on the ball", "Drop this condition to use the events alone.")
        if self.score_states:
            match.need_events("The state of the score")
        return self

    def check_names(self, match: Match, phase_names: Iterable[str] = PHASES) -> Selection:
        """Return the selection itself if the match knows every name in it, whatever data it has.

        Raises as `check`, but never `MissingDataError`: measures then answer with no instance and a note.
        """
        if self.team is not None:
            match.team(self.team)
        for player in sorted(self.players):
            match.player(player)
        known = list(phase_names)
        for phase in sorted(self.phases | self.opponent_phases):
            check_choice("phase", phase, known)
        for zone in sorted(self.zones):
            match.pitch.named_zones().index_of(zone)
        for period, _, _ in self.segment or ():
            match.clock[period]
        return self

    def action_mask(self, index: MatchIndex, side: str = "own") -> NDArray[np.bool_]:
        """Tell which actions of the index belong to the selection.

        Parameters
        ----------
        index : MatchIndex
            The match.
        side : {"own", "opponent"}
            "own": what the side did.  "opponent": what the other side did meanwhile; time, phases, score and
            place are still those of the selection's side, players and pressure do not apply.

        Returns
        -------
        (A,) bool ndarray
        """
        check_choice("side", side, ("own", "opponent"))
        mask = np.ones(len(index.actions), bool)
        for name in self.active:
            mask &= self._action_condition(index, name, side == "own")
        return mask

    def frame_mask(self, index: MatchIndex, with_ball: bool | None = None) -> NDArray[np.bool_]:
        """Tell which frames of the index belong to the selection.

        Parameters
        ----------
        index : MatchIndex
            The match.
        with_ball : bool, optional
            True: frames in which the side has the ball; False: in which the other side has it.  By default
            `has_ball` decides.

        Returns
        -------
        (F,) bool ndarray
        """
        own = self.has_ball if with_ball is None else with_ball
        mask = index.frames.team >= 0
        for name in self.active:
            mask &= self._frame_condition(index, name, own)
        return mask

    @property
    def has_ball(self) -> bool:
        """False if only phases out of possession are chosen, or of the other side only phases in possession: then
        the other side has the ball.
        """
        if self.phases:
            return any(p in IN_PHASES for p in self.phases)
        return not self.opponent_phases or any(p in OUT_PHASES for p in self.opponent_phases)

    def _action_condition(self, index: MatchIndex, name: str, own: bool) -> NDArray[np.bool_]:
        c = index.codes
        if name == "team":
            side = index.match.team_index(self.team or "")
            return c.team == (side if own else 1 - side)
        if name == "segment":
            return self._in_segment(c.period, c.time_s)
        if name in ("phases", "opponent_phases"):
            return self._has_phase(index, name, c.phase if own == (name == "phases") else c.opponent_phase)
        if name == "score_states":
            return self._has_score(c.score if own else _turned(c.score))
        if name in ("zones", "area"):
            return self._in_place(index, name, *((c.x, c.y) if own else (-c.x, -c.y)))
        if not own:
            return np.ones(len(c.team), bool)
        if name == "players":
            wanted = self._player_table(index)
            return wanted[c.player] | (wanted[c.receiver] & (c.success != 0))
        return self._has_pressure(c.pressure)

    def _frame_condition(self, index: MatchIndex, name: str, own: bool) -> NDArray[np.bool_]:
        f = index.frames
        if name == "team":
            side = index.match.team_index(self.team or "")
            return f.team == (side if own else 1 - side)
        if name == "segment":
            return self._in_segment(f.period, f.time_s)
        if name == "players":
            return self._player_table(index)[f.player]
        if name == "under_pressure":
            return self._has_pressure(f.pressure)
        if name in ("zones", "area"):
            return self._in_place(index, name, *((f.x, f.y) if own else (-f.x, -f.y)))
        # The side that the conditions speak of: the one with the ball, or the other one.
        ours = f.team if own else 1 - f.team
        if name == "score_states":
            return self._has_score(_of_side(f.score, ours))
        return self._has_phase(index, name, _of_side(f.phase, ours if name == "phases" else 1 - ours))

    def _in_segment(self, period: NDArray[np.int8], time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
        mask = np.zeros(len(period), bool)
        for number, start, end in self.segment or ():
            mask |= (period == number) & (time_s >= start) & (time_s < end)
        return mask

    def _has_phase(self, index: MatchIndex, name: str, codes: NDArray[np.int8]) -> NDArray[np.bool_]:
        wanted = np.zeros(len(index.phase_names) + 1, bool)  # the last entry answers code -1
        for phase in getattr(self, name):
            wanted[index.phase_names.index(check_choice("phase", phase, index.phase_names))] = True
        return wanted[codes]

    def _has_score(self, codes: NDArray[np.int8]) -> NDArray[np.bool_]:
        return np.isin(codes, [SCORE_STATES.index(s) for s in self.score_states])

    def _in_place(
        self, index: MatchIndex, name: str, x: NDArray[np.float64], y: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        x, y = index.match.pitch.onto(x, y)
        if name == "area":
            x0, y0, x1, y1 = self.area or (0.0, 0.0, 0.0, 0.0)
            return (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
        return np.isin(index.zones.zone_of(x, y), [index.zones.index_of(z) for z in self.zones])

    def _player_table(self, index: MatchIndex) -> NDArray[np.bool_]:
        wanted = np.zeros(len(index.player_ids) + 1, bool)
        for player in self.players:
            wanted[index.player_code[index.match.player(player).player_id]] = True
        return wanted

    def _has_pressure(self, pressure: NDArray[np.float32]) -> NDArray[np.bool_]:
        return pressure >= self.pressure_pct if self.under_pressure else pressure < self.pressure_pct  # False for NaN


def count_conditions(index: MatchIndex, selection: Selection) -> pd.DataFrame:
    """Tell how many instances each condition leaves, and what dropping just that one would give.

    Parameters
    ----------
    index : MatchIndex
        The match.
    selection : Selection
        Its conditions, in the order in which they are spoken.

    Returns
    -------
    DataFrame
        One row for the whole match, then one a condition: field, condition (words), left (actions on the
        ball left when the conditions are added one by one), without (actions on the ball if only this one is
        dropped), seconds_left and seconds_without (the same in seconds of the ball from tracking, NaN without).
        `left` of the last row is what the selection holds.

    Notes
    -----
    Actions on the ball are passes, carries, shots, take-ons, touches and clearances.  If the selection asks
    for phases out of possession alone, all actions of the side are counted.
    """
    selection.check_names(index.match, index.phase_names)
    on_ball = index.codes.is_kind(*ON_BALL_KINDS) if selection.has_ball else np.ones(len(index.actions), bool)
    live = index.frames.team >= 0
    own = selection.has_ball
    sources: list[tuple[NDArray[np.bool_], Callable[[str], NDArray[np.bool_]]]] = [
        (on_ball, lambda name: selection._action_condition(index, name, True)),
        (live, lambda name: selection._frame_condition(index, name, own)),
    ]
    columns = []
    for base, condition in sources:
        masks = {name: condition(name) for name in selection.active}
        left, running = [int(base.sum())], base
        for mask in masks.values():
            running = running & mask
            left.append(int(running.sum()))
        without = [left[-1]]
        for name in masks:
            others = base
            for other, mask in masks.items():
                others = others if other == name else others & mask
            without.append(int(others.sum()))
        columns.append((left, without))
    seconds = index.frames.frame_s if index.has_frames else math.nan
    return pd.DataFrame({
        "field": pd.Series(["", *selection.active], dtype="str"),
        "condition": pd.Series(
            ["the whole match", *(condition_words(selection, n, index.match) for n in selection.active)], dtype="str"
        ),
        "left": np.array(columns[0][0], np.int64),
        "without": np.array(columns[0][1], np.int64),
        "seconds_left": np.array(columns[1][0], float) * seconds,
        "seconds_without": np.array(columns[1][1], float) * seconds,
    })  # fmt: skip


def describe_gaps(index: MatchIndex, selection: Selection, with_ball: bool = False, of_time: bool = False) -> str:
    """Return in words why a selection may hold less than was asked: data or phases that are not there.

    `with_ball` says that the measure speaks of what the side does with the ball, `of_time` that it counts frames.
    """
    said = []
    if with_ball and not selection.has_ball:
        said.append(
            "the side does not have the ball in these phases; what the opponents do with it meanwhile is "
            f"{selection.turned(index.match).to_text()!r}"
        )
    if index.phases is None and (selection.phases or selection.opponent_phases):
        said.append("no phases of play were given to the index, so a selection of phases is empty")
    if selection.under_pressure is not None and not index.has_frames:
        said.append("pressure on the player needs tracking, so this condition leaves nothing")
    asks_frames = of_time or selection.phases or selection.opponent_phases or selection.under_pressure is not None
    if index.has_frames and asks_frames and (untracked := _untracked(index, selection)):
        said.append(f"the tracking holds no play of the {untracked}")
    if selection.score_states and not index.has_events:
        said.append("the score needs events, so this condition leaves nothing")
    return "; ".join(said)


def _untracked(index: MatchIndex, selection: Selection) -> str:
    """Name the periods asked for of which there is no frame; the shoot-out is none."""
    asked = {p for p, _, _ in selection.segment} if selection.segment else {p.number for p in index.match.periods}
    tracked = set(np.unique(index.frames.period).tolist())
    return " and ".join(p.name for p in index.match.periods if p.number in asked - tracked and p.number < 5)


def _turned(score: NDArray[np.int8]) -> NDArray[np.int8]:
    return np.where(score >= 0, len(SCORE_STATES) - 1 - score, score).astype(np.int8)


def _of_side(pair: NDArray[np.int8], side: NDArray[np.int8]) -> NDArray[np.int8]:
    known = (side >= 0) & (side <= 1)
    return np.where(known, np.where(side == 1, pair[:, 1], pair[:, 0]), -1).astype(np.int8)
