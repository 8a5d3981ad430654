"""The match: two sides, periods, and whatever was recorded of it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError, suggest
from tactical_kit.match.clock import Clock, Period
from tactical_kit.match.events import EVENT_COLUMNS, events_table
from tactical_kit.match.snapshot import Snapshot
from tactical_kit.match.tracking import Tracking
from tactical_kit.pitch import Pitch, to_attacking

__all__ = ["INVENTED_LABEL", "Match", "Player", "Team"]

INVENTED_LABEL = "invented demonstration data"


@dataclass(frozen=True)
class Player:
    """One player of a match-day squad; `position` is a short trade label such as "LB", "" if unknown."""

    player_id: str
    name: str
    team_id: str
    shirt: int | None = None
    position: str = ""
    starter: bool = True

    @property
    def label(self) -> str:
        """What stands beside the dot: the shirt number, or the name where there is none."""
        return str(self.shirt) if self.shirt is not None else self.name


@dataclass(frozen=True)
class Team:
    """One side of a match with its squad."""

    team_id: str
    name: str
    short_name: str = ""
    players: tuple[Player, ...] = ()

    def __post_init__(self) -> None:
        if not self.short_name:
            object.__setattr__(self, "short_name", self.name)


@dataclass(frozen=True, eq=False)
class Match:
    """What happened in one match; events, tracking and tags may each be missing.

    Parameters
    ----------
    match_id : str
        Identifier.
    home, away : Team
        The sides.
    periods : tuple of Period
        In order, with the side's direction of attack in each: ends may change in any period.
    pitch : Pitch
        The field of play.
    events : DataFrame, optional
        See `tactical_kit.match.events.EVENT_COLUMNS`; pitch frame.
    tracking : Tracking, optional
        Positions in the pitch frame.
    tags : DataFrame, optional
        The analyst's own log.
    day : date, optional
        When it was played.
    label : str
        Where the data come from; stands on every picture.
    invented : bool
        True for simulated data.
    stills : tuple of Snapshot, default ()
        Single instants whose players were placed by hand.

    Raises
    ------
    TacticalKitError
        Squads, events or tracking that contradict one another; all faults in one message.
    """

    match_id: str
    home: Team
    away: Team
    periods: tuple[Period, ...]
    pitch: Pitch = field(default_factory=Pitch)
    events: pd.DataFrame | None = None
    tracking: Tracking | None = None
    tags: pd.DataFrame | None = None
    day: date | None = None
    label: str = ""
    invented: bool = False
    stills: tuple[Snapshot, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "periods", tuple(self.periods))
        object.__setattr__(self, "stills", tuple(self.stills))
        if self.events is not None and list(self.events.columns[: len(EVENT_COLUMNS)]) != list(EVENT_COLUMNS):
            object.__setattr__(self, "events", events_table(self.events))
        if self.invented and not self.label:
            object.__setattr__(self, "label", INVENTED_LABEL)
        faults = self._faults()
        if faults:
            raise TacticalKitError(f"Match {self.match_id!r} does not fit together: " + "; ".join(faults) + ".")

    def _faults(self) -> list[str]:
        faults = []
        if self.home.team_id == self.away.team_id:
            faults.append(f"both sides have the id {self.home.team_id!r}")
        ids = [p.player_id for t in self.teams for p in t.players]
        twice = sorted({i for i in ids if ids.count(i) > 1})
        if twice:
            faults.append(f"player id twice in the squads: {', '.join(twice)}")
        for team in self.teams:
            strangers = [p.player_id for p in team.players if p.team_id != team.team_id]
            if strangers:
                faults.append(f"{team.name} lists players of another side: {', '.join(strangers)}")
        known, played = set(ids), {p.number for p in self.periods}
        if self.tracking is not None:
            unknown = [p for p in self.tracking.players if p not in known]
            if unknown:
                faults.append(f"tracking names players of neither squad: {', '.join(unknown[:5])}")
            side = {p.player_id: i for i, t in enumerate(self.teams) for p in t.players}
            wrong = [p for p, i in zip(self.tracking.players, self.tracking.team_index) if side.get(p, i) != i]
            if wrong:
                faults.append(f"tracking puts players on the wrong side: {', '.join(wrong[:5])}")
            if not set(np.unique(self.tracking.period).tolist()) <= played:
                faults.append("tracking has frames of a period that the match does not list")
        for still in self.stills:
            unknown = [p for p in still.players if p not in known]
            if unknown:
                faults.append(f"a still names players of neither squad: {', '.join(unknown[:5])}")
            if still.period not in played:
                faults.append(f"a still is of period {still.period}, which the match does not list")
        seen = [(s.period, s.time_s) for s in self.stills]
        if len(set(seen)) < len(seen):
            faults.append("two stills are of the same instant")
        if self.events is not None and len(self.events):
            if not set(self.events["period"].unique().tolist()) <= played:
                faults.append("events fall in a period that the match does not list")
            bad = set(self.events["team"].unique().tolist()) - {self.home.team_id, self.away.team_id, ""}
            if bad:
                faults.append(f"events name unknown teams: {', '.join(sorted(bad)[:5])}")
            unknown = sorted(set(self.events["player"].unique().tolist()) - known - {""})
            if unknown:
                faults.append(f"events name players of neither squad: {', '.join(unknown[:5])}")
        return faults

    # -- who and when ---------------------------------------------------------------------------------

    @property
    def teams(self) -> tuple[Team, Team]:
        """Home and away side."""
        return self.home, self.away

    @cached_property
    def clock(self) -> Clock:
        """The match clock."""
        return Clock(self.periods)

    @cached_property
    def players(self) -> dict[str, Player]:
        """Every player of both squads by id."""
        return {p.player_id: p for t in self.teams for p in t.players}

    def team(self, team: str) -> Team:
        """Return a side by id, "home" or "away", or by a name or short name that only one side bears."""
        for words in ([s.team_id for s in self.teams], ["home", "away"]):
            if team in words:  # an id means its own side, whatever the other one is called
                return self.teams[words.index(team)]
        named = [s for s in self.teams if team in (s.name, s.short_name)]
        if len(named) == 1:
            return named[0]
        known = ["home", "away", *(n for s in self.teams for n in (s.name, s.short_name, s.team_id))]
        why = "is the name of both sides" if named else "does not play in this match"
        bears = [s.name for s in self.teams if team.casefold() in s.name.casefold().split()]
        hint = f" Did you mean {bears[0]!r}?" if len(bears) == 1 else suggest(team, known)
        raise UnknownNameError(
            f"team {team!r} {why}; expected {self.home.name!r} or {self.away.name!r} "
            f"(ids {self.home.team_id!r}, {self.away.team_id!r}).{hint}"
        )

    def team_index(self, team: str) -> int:
        """Return 0 for the home side, 1 for the away side."""
        return 0 if self.team(team) is self.home else 1

    def opponent(self, team: str) -> Team:
        """Return the other side."""
        return self.teams[1 - self.team_index(team)]

    def player(self, player: str) -> Player:
        """Return a player by id, or by a name that only one player bears."""
        if player in self.players:
            return self.players[player]
        named = [p for p in self.players.values() if p.name == player]
        if len(named) == 1:
            return named[0]
        known = [*self.players, *(p.name for p in self.players.values())]
        why = "is the name of two players; use the id" if named else "is in neither squad"
        raise UnknownNameError(f"player {player!r} {why}.{suggest(player, known)}")

    # -- where ----------------------------------------------------------------------------------------

    def attack_sign(self, team: str, period: int) -> int:
        """Return +1 if the side attacks towards +x of the pitch frame in that period, else -1."""
        sign = self.clock[period].home_attacks
        return sign if self.team_index(team) == 0 else -sign

    def attack_signs(self, team: ArrayLike, period: ArrayLike) -> NDArray[np.int8]:
        """Return the sign for each (team id, period) pair, 0 where the team is unknown; vectorised."""
        team, period = np.asarray(team, dtype=object), np.asarray(period)
        home = np.zeros(np.shape(period), np.int8)
        for p in self.periods:
            home[period == p.number] = p.home_attacks
        side = np.where(team == self.home.team_id, 1, np.where(team == self.away.team_id, -1, 0))
        return (home * side).astype(np.int8)

    @cached_property
    def attacking_events(self) -> pd.DataFrame:
        """The events with x, y, end_x, end_y turned into the attacking frame of each event's own side.

        Events without a team stay in the pitch frame.
        """
        events = self.need_events("The events of each side in its attacking frame").copy()
        sign = self.attack_signs(events["team"], events["period"])
        sign = np.where(sign == 0, 1, sign)
        events["x"], events["y"] = to_attacking(events["x"], events["y"], sign)
        events["end_x"], events["end_y"] = to_attacking(events["end_x"], events["end_y"], sign)
        return events

    # -- what is there --------------------------------------------------------------------------------

    @property
    def level(self) -> str:
        """What the data allow: "events and tracking", "tracking", "events", "stills", "tags" or "nothing yet"."""
        if self.tracking is not None:
            return "events and tracking" if self.events is not None else "tracking"
        if self.events is not None:
            return "events"
        held = ["stills"] if self.stills else []
        held += ["tags"] if self.tags is not None and len(self.tags) else []
        return " and ".join(held) or "nothing yet"

    def need_events(self, what: str) -> pd.DataFrame:
        """Return the events, or raise a sentence that says `what` needs them."""
        if self.events is None:
            raise MissingDataError(f"{what} needs events; this match has {self.level}.")
        return self.events

    def need_tracking(self, what: str, instead: str = "") -> Tracking:
        """Return the tracking, or raise a sentence that says `what` needs it and what would do `instead`."""
        if self.tracking is None:
            hint = f" {instead}" if instead else ""
            raise MissingDataError(f"{what} needs tracking; this match has {self.level}.{hint}")
        return self.tracking

    @cached_property
    def instants(self) -> Tracking | None:
        """The tracking, or, without it, the stills as single frames (no velocity); None with neither.

        What can be read off one instant is read off either.
        """
        if self.tracking is not None or not self.stills:
            return self.tracking
        stills = sorted(self.stills, key=lambda s: (s.period, s.time_s))
        names = tuple(dict.fromkeys(p for s in stills for p in s.players))
        side = {p.player_id: i for i, t in enumerate(self.teams) for p in t.players}
        xy = np.full((len(stills), len(names), 2), np.nan, np.float32)
        for row, still in enumerate(stills):
            turn = self.clock[still.period].home_attacks * still.attack_signs[0]  # a still may be turned
            xy[row, [names.index(p) for p in still.players]] = still.xy * turn
        turns = np.array([self.clock[s.period].home_attacks * s.attack_signs[0] for s in stills], np.float32)
        ball = np.array([s.ball for s in stills], np.float32)
        ball[:, :2] *= turns[:, None]
        return Tracking(
            rate_hz=25.0, period=np.array([s.period for s in stills], np.int8),
            time_s=np.array([s.time_s for s in stills]), players=names,
            team_index=np.array([side[p] for p in names], np.int8), xy=xy, ball=ball,
            alive=np.ones(len(stills), bool),
        )  # fmt: skip

    def with_data(self, **changes: object) -> Match:
        """Return a copy of the match with some fields replaced."""
        return replace(self, **changes)  # type: ignore[arg-type]

    @cached_property
    def stints(self) -> pd.DataFrame:
        """Who was on the pitch when: one row a player and period.

        Returns
        -------
        DataFrame
            player, team, period, start_s, end_s.  From the squads, the substitutions and the cards among
            the events (a dismissed player leaves at his card); without events from the spells in the
            tracking; with neither, the starters for the whole match.
        """
        if self.events is None and self.tracking is not None:
            return self._stints_from_tracking(self.tracking)
        on = {p.player_id: True for t in self.teams for p in t.players if p.starter}
        changes: list[tuple[int, float, str, bool]] = []
        if self.events is not None:
            subs = self.events[self.events["kind"] == "substitution"]
            for period, time_s, off, came in subs[["period", "time_s", "player", "receiver"]].itertuples(index=False):
                changes.append((int(period), float(time_s), off, False))
                changes.append((int(period), float(time_s), came, True))
            sent = self.events[(self.events["kind"] == "card") & self.events["detail"].isin(["red", "second-yellow"])]
            for period, time_s, off in sent[["period", "time_s", "player"]].itertuples(index=False):
                changes.append((int(period), float(time_s), off, False))
        rows = []
        for p in self.periods:
            since = {player: 0.0 for player, there in on.items() if there}
            for period, time_s, player, comes in sorted(changes, key=lambda c: (c[0], c[1], c[3])):
                if period != p.number or player not in self.players:
                    continue
                if comes:
                    since.setdefault(player, time_s)
                elif player in since:
                    rows.append((player, p.number, since.pop(player), time_s))
                on[player] = comes
            rows.extend((player, p.number, start, p.duration_s) for player, start in since.items())
        return self._stint_table(rows)

    def _stints_from_tracking(self, tracking: Tracking) -> pd.DataFrame:
        # A player missing from the data for a while is still on the pitch: first to last sight counts.
        rows = []
        for number, frames in tracking.iter_periods():
            seen = np.isfinite(tracking.xy[frames, :, 0])
            times = tracking.time_s[frames]
            for column in np.flatnonzero(seen.any(axis=0)):
                where = np.flatnonzero(seen[:, column])
                end = times[where[-1]] + 1 / tracking.rate_hz
                rows.append((tracking.players[column], number, float(times[where[0]]), float(end)))
        return self._stint_table(rows)

    def _stint_table(self, rows: list[tuple[str, int, float, float]]) -> pd.DataFrame:
        table = pd.DataFrame(rows, columns=["player", "period", "start_s", "end_s"])
        table = table[table["end_s"] > table["start_s"]]
        table.insert(1, "team", [self.players[p].team_id for p in table["player"]])
        types = {"player": "str", "team": "str", "period": "int8", "start_s": "float64", "end_s": "float64"}
        return table.astype(types).sort_values(["team", "player", "period"], ignore_index=True)

    def snapshot(self, period: int, time_s: float) -> Snapshot:
        """Return both sides and the ball at the tracking frame nearest to an instant."""
        tracking = self.need_tracking("A snapshot of an instant", "A digitised still gives one, too.")
        i = tracking.index_at(period, time_s)
        there = np.isfinite(tracking.xy[i]).all(axis=1)
        sign = self.clock[period].home_attacks
        return Snapshot(
            period=int(period),
            time_s=float(tracking.time_s[i]),
            players=tuple(p for p, t in zip(tracking.players, there) if t),
            team_index=tracking.team_index[there],
            xy=tracking.xy[i][there].astype(float),
            velocity=np.nan_to_num(tracking.velocity[i][there].astype(float)),
            ball=tracking.ball[i].astype(float),
            ball_velocity=tracking.ball_velocity[i].astype(float),
            attack_signs=(sign, -sign),
            pitch=self.pitch,
        )

    def __getstate__(self) -> dict[str, object]:
        """Return the fields alone: what was worked out from them does not travel with a pickle."""
        return {f.name: getattr(self, f.name) for f in fields(self)}

    def __repr__(self) -> str:
        label = f", {self.label}" if self.label else ""
        return f"<Match {self.home.name} v {self.away.name}: {self.level}{label}>"
