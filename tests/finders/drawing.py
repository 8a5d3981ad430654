"""A drawn sequence: where the players are at a few instants, who has the ball, what is played to whom.

Everything is written in the attacking frame of side "a", in metres and seconds; `Drawing.match()` makes a Match of
it with events and 25 Hz tracking.  The same drawing can be turned by 180 degrees (side "a" attacks the other way),
moved to another second of the period, given to the other side, or repeated, so that a finder can be asked in the
middle, at the start and at the end of a period, several times over, and in both directions of attack.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field

import numpy as np

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.pitch import Pitch

POSITIONS = ("GK", "RB", "RCB", "LCB", "LB", "DM", "RCM", "LCM", "RW", "LW", "ST")
# Side "a" has the ball in its own half, side "b" stands in a 4-4-2 mid-block: (x, y) by shirt 1 to 11.
A_STANDS = [
    (-48, 0),
    (-22, -26),
    (-32, -9),
    (-32, 9),
    (-22, 26),
    (-20, 0),
    (-6, -10),
    (-6, 10),
    (12, -30),
    (12, 30),
    (16, 0),
]
B_STANDS = [(48, 0), (18, -20), (19, -7), (19, 7), (18, 20), (3, -6), (3, 6), (3, -20), (3, 20), (-11, -5), (-11, 5)]
B_POSITIONS = ("GK", "LB", "LCB", "RCB", "RB", "LCM", "RCM", "LM", "RM", "ST", "ST")


@dataclass
class Drawing:
    """A sequence of one period; shirts a1..a11 and b1..b11 (a1 and b1 keep goal).

    >>> d = Drawing(6.0).hold("a3", 0, 2).play("a3", "a6", 2, 3).hold("a6", 3, 6)
    >>> d.match().events["kind"].tolist()
    ['period-start', 'pass', 'period-end']
    """

    seconds: float
    rate_hz: float = 25.0
    a_stands: list = field(default_factory=lambda: list(A_STANDS))
    b_stands: list = field(default_factory=lambda: list(B_STANDS))
    a_positions: tuple = POSITIONS
    b_positions: tuple = B_POSITIONS

    def __post_init__(self) -> None:
        self.keys: dict[str, list[tuple[float, float, float]]] = {}
        self.ball_keys: list[tuple[float, object, float]] = []  # (time, player or place, height)
        self.rows: list[dict] = []
        self.dead: list[tuple[float, float]] = []
        self.gaps: list[tuple[float, float]] = []
        self.unseen: dict[str, list[tuple[float, float]]] = {}

    # -- players -------------------------------------------------------------------------------------

    def at(self, time_s: float, **places: tuple[float, float]) -> Drawing:
        """Put players at places at an instant; between two instants they go straight, outside they stand."""
        for player, (x, y) in places.items():
            self.keys.setdefault(player, []).append((time_s, x, y))
        return self

    def stands(self, **places: tuple[float, float]) -> Drawing:
        """Put players where they stay throughout."""
        return self.at(0.0, **places)

    def hide(self, player: str, start_s: float = 0.0, end_s: float = 1e9) -> Drawing:
        """Take a player out of the tracking for a while."""
        self.unseen.setdefault(player, []).append((start_s, end_s))
        return self

    # -- ball ----------------------------------------------------------------------------------------

    def hold(self, player: str, start_s: float, end_s: float) -> Drawing:
        """The ball is at the player's feet (no event of its own; add one with `event`)."""
        self.ball_keys += [(start_s, player, 0.0), (end_s, player, 0.0)]
        return self

    def ball(self, time_s: float, x: float, y: float, z: float = 0.0) -> Drawing:
        """The ball is at a place at an instant."""
        self.ball_keys.append((time_s, (x, y), z))
        return self

    def play(
        self, passer: str, receiver: str, start_s: float, end_s: float, complete: bool = True, **more: object
    ) -> Drawing:
        """A pass: the ball flies straight from the passer to the receiver (a team-mate, or who cuts it off)."""
        self.ball_keys += [(start_s, passer, 0.0), (end_s, receiver, 0.0)]
        outcome = "complete" if complete else "intercepted"
        return self.event(
            "pass",
            passer,
            start_s,
            end_s=end_s,
            receiver=receiver,
            success=complete,
            outcome=outcome,
            to=receiver,
            **more,
        )

    def carry(self, player: str, start_s: float, end_s: float) -> Drawing:
        """The player carries the ball; say with `at` where he goes."""
        self.hold(player, start_s, end_s)
        return self.event("carry", player, start_s, end_s=end_s, success=True, to=player)

    def event(self, kind: str, player: str, time_s: float, **more: object) -> Drawing:
        """Any event; its place is the player's, its end that of the player `to` at `end_s`."""
        self.rows.append({"kind": kind, "player": player, "time_s": time_s, **more})
        return self

    def dead_ball(self, start_s: float, end_s: float) -> Drawing:
        """The ball is out of play for a while."""
        self.dead.append((start_s, end_s))
        return self

    def gap(self, start_s: float, end_s: float) -> Drawing:
        """The tracking has no frames for a while."""
        self.gaps.append((start_s, end_s))
        return self

    # -- the match -----------------------------------------------------------------------------------

    def place_of(self, player: str, time_s: np.ndarray) -> np.ndarray:
        side, shirt = player[0], int(player[1:])
        stands = (self.a_stands if side == "a" else self.b_stands)[shirt - 1]
        keys = sorted(self.keys.get(player, [(0.0, *stands)]))
        t, x, y = (np.array(v, float) for v in zip(*keys))
        return np.stack([np.interp(time_s, t, x), np.interp(time_s, t, y)], axis=-1)

    def _ball_at(self, time_s: np.ndarray) -> np.ndarray:
        keys = sorted(self.ball_keys, key=lambda k: k[0]) or [(0.0, "a3", 0.0)]
        ball = np.zeros((len(time_s), 3))
        times = np.array([k[0] for k in keys])
        after = np.searchsorted(times, time_s, side="right")
        for i, t in enumerate(time_s):
            before, nxt = keys[max(after[i] - 1, 0)], keys[min(after[i], len(keys) - 1)]
            if before[1] == nxt[1] and isinstance(before[1], str):
                ball[i, :2] = self.place_of(before[1], np.array([t]))[0]
                continue
            ends = [
                k[1] if not isinstance(k[1], str) else self.place_of(k[1], np.array([k[0]]))[0] for k in (before, nxt)
            ]
            share = 0.0 if nxt[0] <= before[0] else np.clip((t - before[0]) / (nxt[0] - before[0]), 0, 1)
            ball[i, :2] = np.array(ends[0]) + share * (np.array(ends[1]) - np.array(ends[0]))
            ball[i, 2] = before[2] + share * (nxt[2] - before[2])
        return ball

    def match(
        self,
        *,
        turned: bool = False,
        swapped: bool = False,
        after_s: float = 0.0,
        then_s: float = 0.0,
        repeats: int = 1,
        events: bool = True,
        tracking: bool = True,
        **changes: object,
    ) -> Match:
        """Make a match.

        turned: side "a" attacks towards -x.  swapped: side "a" is the away side.  after_s, then_s: seconds of dead
        ball before and after.  repeats: the sequence so many times in a row, each with `after_s` before it.
        """
        sign = -1 if turned else 1
        one = after_s + self.seconds
        total = one * repeats + then_s
        players = [f"{s}{n}" for s in "ab" for n in range(1, 12)]
        if swapped:
            players = players[11:] + players[:11]
        t0 = np.arange(round(self.seconds * self.rate_hz)) / self.rate_hz
        xy = np.stack([self.place_of(p, t0) for p in players], axis=1)
        for j, p in enumerate(players):
            for start, end in self.unseen.get(p, []):
                xy[(t0 >= start - 1e-9) & (t0 < end - 1e-9), j] = np.nan
        ball = self._ball_at(t0)
        live = np.ones(len(t0), bool)
        for start, end in self.dead:
            live[(t0 >= start - 1e-9) & (t0 < end - 1e-9)] = False
        seen = np.ones(len(t0), bool)
        for start, end in self.gaps:
            seen[(t0 >= start - 1e-9) & (t0 < end - 1e-9)] = False
        lead, tail = round(after_s * self.rate_hz), round(then_s * self.rate_hz)

        def still(a, n, i):
            return np.repeat(a[[i]], n, axis=0)

        blocks = [
            (still(xy, lead, 0), still(ball, lead, 0), np.zeros(lead, bool), np.ones(lead, bool)),
            (xy, ball, live, seen),
        ]
        blocks = blocks * repeats + [
            (still(xy, tail, -1), still(ball, tail, -1), np.zeros(tail, bool), np.ones(tail, bool))
        ]
        xy, ball, live, seen = (np.concatenate(parts) for parts in zip(*blocks))
        times = np.arange(len(xy)) / self.rate_hz
        home, away = self._team("b" if swapped else "a"), self._team("a" if swapped else "b")
        rows = [
            {"kind": "period-start", "time_s": 0.0, "period": 1},
            {"kind": "period-end", "time_s": total, "period": 1},
        ]
        for n in range(repeats):
            rows += [self._event_row(r, n * one + after_s, sign) for r in self.rows]
        period = Period(1, total, sign * (-1 if swapped else 1))
        track = Tracking(
            self.rate_hz, np.ones(len(times), np.int8)[seen], times[seen], tuple(players),
            np.repeat([0, 1], 11).astype(np.int8), (xy * sign).astype(np.float32)[seen],
            (ball * [sign, sign, 1]).astype(np.float32)[seen], live[seen],
        )  # fmt: skip
        return Match(
            "drawn", home, away, (period,), Pitch(), events_table(rows) if events else None,
            track if tracking else None, **changes,
        )  # fmt: skip

    def _team(self, side: str) -> Team:
        positions = self.a_positions if side == "a" else self.b_positions
        return Team(
            side, f"Side {side.upper()}", side.upper(),
            tuple(Player(f"{side}{n}", f"Player {side}{n}", side, n, p) for n, p in enumerate(positions, 1)),
        )  # fmt: skip

    def _event_row(self, row: dict, shift_s: float, sign: int) -> dict:
        row = copy.copy(row)
        to, player = row.pop("to", None), row["player"]
        x, y = self.place_of(player, np.array([row["time_s"]]))[0] * sign
        made = {"period": 1, "team": player[0], "x": x, "y": y} | row
        if to is not None:
            made["end_x"], made["end_y"] = self.place_of(to, np.array([row["end_s"]]))[0] * sign
        made["time_s"] = row["time_s"] + shift_s
        if "end_s" in row:
            made["end_s"] = row["end_s"] + shift_s
        for name in ("x", "y", "end_x", "end_y"):
            if name in row:  # a place given by hand is in the frame of side "a"
                made[name] = row[name] * sign
        return made
