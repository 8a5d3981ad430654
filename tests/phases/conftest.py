"""A builder of short matches by hand: who has the ball where, and where the other side stands.

Everything is written in the attacking frame of the side with the ball; the builder turns it into the
pitch frame.  Heights of lines are metres from the own goal of the side without the ball, as a coach says them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.pitch import Pitch

POSITIONS = ("GK", "RB", "RCB", "LCB", "LB", "RM", "RCM", "LCM", "LM", "ST", "ST")
WIDE = np.array([-24.0, -8.0, 8.0, 24.0])


def squad(name: str) -> Team:
    players = tuple(Player(f"{name}{i}", f"Player {name}{i}", name, i + 1, pos) for i, pos in enumerate(POSITIONS))
    return Team(name, f"Team {name}", name.upper(), players)


@dataclass
class Sketch:
    """A match drawn in strokes; each `play` is a stretch in which one side has the ball."""

    rate_hz: float = 25.0
    pitch: Pitch = field(default_factory=Pitch)
    home_attacks: tuple[int, ...] = (1,)
    positions_known: bool = True

    def __post_init__(self) -> None:
        self.events: list[dict] = []
        self.frames: list[tuple[int, float, np.ndarray, np.ndarray, bool, int]] = []
        self.time = 0.0
        self.period = 1
        self.durations: dict[int, float] = {}
        self.absent: list[tuple[str, int, float]] = []  # player, period, from

    @property
    def half(self) -> float:
        return self.pitch.half_length

    def sign(self, side: int) -> int:
        return self.home_attacks[self.period - 1] * (1 if side == 0 else -1)

    def event(self, kind: str, side: int, x: float, y: float, time_s: float | None = None, **more: object) -> Sketch:
        """An event of a side in its own attacking frame; end_x, end_y too."""
        sign, name = self.sign(side), "ab"[side]
        row = {"period": self.period, "time_s": self.time if time_s is None else time_s, "kind": kind, "team": name,
               "player": f"{name}{more.pop('who', 7)}", "x": x * sign, "y": y * sign}  # fmt: skip
        for key in ("end_x", "end_y"):
            if key in more:
                row[key] = float(more.pop(key)) * sign  # type: ignore[arg-type]
        self.events.append(row | more)
        return self

    def play(
        self,
        seconds: float,
        side: int,
        ball: tuple[tuple[float, float], tuple[float, float]],
        lines: tuple[float, float] = (35.0, 55.0),
        lines_end: tuple[float, float] | None = None,
        began: str = "",
        hunters: tuple[float, float] | None = None,
        passes: bool = True,
        throw_to: tuple[float, float] | None = None,
    ) -> Sketch:
        """Let a side have the ball for a while.

        lines are (back line, first line) of the other side in metres from its goal, moving evenly to
        lines_end; hunters are the distances (start, end) in metres of its two nearest players to the ball.
        """
        count = round(seconds * self.rate_hz)
        share = np.arange(count)[:, None] / max(count, 1)
        path = np.array(ball[0]) + share * (np.array(ball[1]) - np.array(ball[0]))
        line_path = np.array(lines) + share * (np.array(lines_end or lines) - np.array(lines))
        start = self.time
        if began in ("kick-off", "goal-kick", "throw-in", "corner", "free-kick", "penalty", "drop-ball"):
            end = throw_to or ball[1]
            self.event("pass", side, *ball[0], set_play=began, end_s=start + 0.5, end_x=end[0], end_y=end[1])
        elif began:
            self.event(began, side, *ball[0])
        if passes:
            for at in np.arange(0.4, seconds, 1.2):
                x, y = np.array(ball[0]) + at / seconds * (np.array(ball[1]) - np.array(ball[0]))
                self.event("carry", side, x, y, time_s=start + at)
        for i in range(count):
            xy = np.zeros((22, 2))
            mine = slice(0, 11) if side == 0 else slice(11, 22)
            theirs = slice(11, 22) if side == 0 else slice(0, 11)
            with_ball = np.column_stack([np.clip(np.linspace(-50, 40, 11), -50, 45), np.tile([-30, 0, 30], 4)[:11]])
            with_ball[7] = path[i]
            xy[mine] = with_ball
            back, first = line_path[i]
            x = np.concatenate(([self.half - 2], [self.half - back] * 4, [self.half - (back + first) / 2] * 4,
                                [self.half - first] * 2))  # fmt: skip
            y = np.concatenate(([0.0], WIDE, WIDE, [-6.0, 6.0]))
            without = np.column_stack([x, y])
            if hunters is not None:
                away = hunters[0] + share[i, 0] * (hunters[1] - hunters[0])
                without[6], without[7] = path[i] + (away, 0), path[i] + (0, away)
            xy[theirs] = without
            self.frames.append(
                (self.period, start + i / self.rate_hz, xy * self.sign(side), path[i] * self.sign(side), True, side)
            )
        self.time = start + count / self.rate_hz
        return self

    def dead(self, seconds: float, why: str = "out", side: int = 0) -> Sketch:
        """The ball out of play."""
        if why:
            self.event(why, side, 0, 0)
        count = round(seconds * self.rate_hz)
        for i in range(count):
            _, _, xy, ball, _, owner = self.frames[-1]
            self.frames.append((self.period, self.time + i / self.rate_hz, xy, ball, False, owner))
        self.time += count / self.rate_hz
        return self

    def missing(self, seconds: float) -> Sketch:
        """A gap in the tracking: time passes, no frames."""
        self.time += round(seconds * self.rate_hz) / self.rate_hz
        return self

    def next_period(self) -> Sketch:
        self.durations[self.period] = self.time
        self.period += 1
        self.time = 0.0
        return self

    def leaves(self, *players: str) -> Sketch:
        """Players sent off, or lost by the data, from now on."""
        self.absent += [(p, self.period, self.time) for p in players]
        return self

    def match(self, events: bool = True, tracking: bool = True, **changes: object) -> Match:
        home, away = squad("a"), squad("b")
        if not self.positions_known:
            home, away = (
                Team(t.team_id, t.name, "", tuple(Player(p.player_id, p.name, p.team_id) for p in t.players))
                for t in (home, away)
            )
        durations = self.durations | {self.period: self.time}
        periods = tuple(Period(n, durations[n], self.home_attacks[n - 1]) for n in durations)
        track = None
        if tracking:
            players = tuple(p.player_id for t in (home, away) for p in t.players)
            xy = np.array([f[2] for f in self.frames], np.float32)
            period = np.array([f[0] for f in self.frames], np.int8)
            time_s = np.array([f[1] for f in self.frames])
            for player, since_period, since in self.absent:
                gone = (period > since_period) | ((period == since_period) & (time_s >= since))
                xy[gone, players.index(player)] = np.nan
            ball = np.array([f[3] for f in self.frames], np.float32)
            track = Tracking(
                self.rate_hz, period, time_s, players, np.repeat([0, 1], 11).astype(np.int8), xy,
                np.column_stack([ball, np.zeros(len(ball), np.float32)]), np.array([f[4] for f in self.frames], bool),
                None,
            )  # fmt: skip
        table = events_table(self.events) if events else None
        return Match("sketch", home, away, periods, self.pitch, table, track, **changes)  # type: ignore[arg-type]


@pytest.fixture
def sketch():
    """The builder class."""
    return Sketch
