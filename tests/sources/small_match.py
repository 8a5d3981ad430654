"""Small invented matches for the tests of ways in and out: short periods, but with everything that happens in one."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.pitch import Pitch

# Attacking frame, metres: keeper, back four, three, three.
SHAPE = np.array(
    [[-48, 0], [-30, -20], [-32, -7], [-32, 7], [-30, 20], [-15, -12], [-18, 0], [-15, 12], [0, -22], [4, 0], [0, 22]],
    float,
)  # fmt: skip
POSITIONS = ("GK", "RB", "RCB", "LCB", "LB", "RCM", "DM", "LCM", "RW", "ST", "LW")


def squad(letter: str, name: str, team_id: str) -> Team:
    players = [
        Player(f"{letter}{i + 1}", f"{name} Player {i + 1}", team_id, i + 1, POSITIONS[i] if i < 11 else "", i < 11)
        for i in range(14)
    ]
    return Team(team_id, f"{name} Town", name[:3].upper(), tuple(players))


def small_match(
    seed: int = 0,
    numbers: tuple[int, ...] = (1, 2),
    directions: tuple[int, ...] = (1, -1, 1, -1, 1),
    rate_hz: float = 5.0,
    seconds: float = 40.0,
    start: datetime | None = None,
    sent_off: bool = True,
    unseen: bool = True,
    owner: bool = True,
    with_events: bool = True,
    with_tracking: bool = True,
    home_id: str = "home",
    away_id: str = "away",
) -> Match:
    """Return a match whose values are whole centimetres and times of frames, so that every form can hold it."""
    rng = np.random.default_rng(seed)
    home, away = squad("h", "Reed", home_id), squad("a", "Fern", away_id)
    periods = []
    for k, number in enumerate(numbers):
        begin = start + timedelta(minutes=30 * k) if start else None
        periods.append(Period(number, seconds, directions[k], begin))
    tracking = _tracking(rng, periods, home, away, rate_hz, sent_off, unseen, owner) if with_tracking else None
    events = _events(rng, periods, home, away, rate_hz, sent_off) if with_events else None
    return Match(
        "m-1", home, away, tuple(periods), Pitch(104.0, 67.0), events, tracking, None,
        (start.date() if start else date(2026, 3, 1)), "a test, invented", False,
    )  # fmt: skip


def _tracking(rng, periods, home, away, rate_hz, sent_off, unseen, owner) -> Tracking:
    names = [p.player_id for p in home.players[:12]] + [p.player_id for p in away.players[:11]]
    side = np.array([0] * 12 + [1] * 11, np.int8)
    n = round(periods[0].duration_s * rate_hz)
    xy = np.full((n * len(periods), 23, 2), np.nan)
    ball = np.zeros((n * len(periods), 3))
    for k, period in enumerate(periods):
        rows = slice(k * n, (k + 1) * n)
        steps = rng.integers(-20, 21, (n, 22, 2)).cumsum(axis=0).clip(-200, 200) / 100
        base = np.concatenate([SHAPE, -SHAPE]) * period.home_attacks
        here = base + steps
        xy[rows, :11] = here[:, :11]
        xy[rows, 12:] = here[:, 11:]
        if k >= 1:  # h12 came on for h11 at the break
            xy[rows, 11] = xy[rows, 10]
            xy[rows, 10] = np.nan
            if sent_off:
                xy[rows, 12 + 5] = np.nan
        ball[rows, :2] = here[:, 9] + 0.5
        ball[rows, 2] = rng.integers(0, 300, n) / 100
    if len(periods) == 1:
        xy[n // 2 :, 11] = xy[n // 2 :, 10]
        xy[n // 2 :, 10] = np.nan
    if unseen:
        xy[3:9, 4] = np.nan
    frames = n * len(periods)
    return Tracking(
        rate_hz, np.repeat([p.number for p in periods], n).astype(np.int8),
        np.tile(np.round(np.arange(n) / rate_hz, 6), len(periods)), tuple(names), side,
        np.round(xy, 2).astype(np.float32), np.round(ball, 2).astype(np.float32), rng.random(frames) > 0.2,
        np.repeat(rng.integers(-1, 2, n), len(periods)).astype(np.int8) if owner else None,
    )  # fmt: skip


def _events(rng, periods, home, away, rate_hz, sent_off) -> pd.DataFrame:
    rows: list[dict[str, object]] = []

    def add(period: Period, frame: int, kind: str, team: Team | None, player: str = "", **more: object) -> str:
        sign = 0 if team is None else period.home_attacks * (1 if team is home else -1)
        for key in ("x", "y", "end_x", "end_y"):
            if key in more:
                more[key] = round(float(more[key]) * sign, 2) + 0.0  # type: ignore[arg-type]
        if "end" in more:
            more["end_s"] = round(int(more.pop("end")) / rate_hz, 6)  # type: ignore[call-overload]
        event_id = f"e{len(rows) + 1:03d}"
        rows.append(
            {"event_id": event_id, "period": period.number, "time_s": round(frame / rate_hz, 6), "kind": kind,
             "team": team.team_id if team else "", "player": player, **more}
        )  # fmt: skip
        return event_id

    for k, period in enumerate(periods):
        a, b = (home, away) if k % 2 == 0 else (away, home)
        first, other = a.players[0].player_id[0], b.players[0].player_id[0]
        f = 0
        add(period, f, "period-start", None)
        add(period, f, "pass", a, f"{first}10", receiver=f"{first}7", success=True, outcome="complete", x=0, y=0,
            end_x=-15.5, end_y=2.25, set_play="kick-off", body_part="right_foot", end=f + 4)  # fmt: skip
        if k == 1:
            add(period, f, "substitution", home, "h11", receiver="h12")
            if sent_off:
                add(period, f, "card", away, "a6", detail="red")
        if k == 0:
            add(period, 6, "card", home, "h2", detail="yellow")
        x = round(float(rng.integers(-4000, 0)) / 100, 2)
        add(period, 8, "carry", a, f"{first}7", x=x, y=3, end_x=x + 6, end_y=4, end=12)
        cross = add(period, 12, "pass", a, f"{first}7", receiver=f"{first}10", success=True, outcome="complete",
                    x=30, y=25, end_x=45, end_y=1, detail="cross", body_part="left_foot", end=15)  # fmt: skip
        goal = bool(rng.integers(0, 2))
        shot = add(period, 15, "shot", a, f"{first}10", success=goal, outcome="goal" if goal else "saved", x=44, y=1,
                   end_x=52, end_y=0.5, detail="header", body_part="head", related=cross)  # fmt: skip
        if not goal:
            add(period, 17, "save", b, f"{other}1", x=-51, y=0, body_part="hands", related=shot)
        add(period, 20, "pass", b, f"{other}1", receiver=f"{first}5", success=False, outcome="intercepted", x=-46, y=0,
            end_x=-5, end_y=8, set_play="goal-kick", body_part="right_foot", end=24)  # fmt: skip
        add(period, 24, "interception", a, f"{first}5", x=5, y=-8, success=True)
        add(period, 26, "tackle", b, f"{other}7", x=-4, y=8, success=True, outcome="won")
        add(period, 28, "take-on", b, f"{other}9", x=5, y=8, success=False, outcome="lost")
        add(period, 30, "duel", a, f"{first}4", x=-20, y=3, success=True, outcome="won", body_part="head")
        add(period, 33, "clearance", a, f"{first}4", x=-30, y=3, end_x=10, end_y=33, body_part="head")
        add(period, 36, "out", a, f"{first}4", x=10, y=33.5)
        add(period, 45, "pass", b, f"{other}5", receiver=f"{other}7", success=True, outcome="complete", x=-10, y=-33.5,
            end_x=-2, end_y=-20, set_play="throw-in", body_part="hands", end=48)  # fmt: skip
        add(period, 52, "foul", a, f"{first}7", x=2, y=20)
        add(period, 60, "recovery", b, f"{other}7", x=2, y=3, success=True)
        add(period, 62, "touch", b, f"{other}8", x=4, y=3)
        add(period, 64, "block", a, f"{first}3", x=-6, y=-3)
        add(period, 66, "claim", a, f"{first}1", x=-47, y=2, body_part="hands")
        add(period, 70, "offside", b, f"{other}10", x=30, y=4)
        if k == 0:
            add(period, 80, "shot", a, f"{first}9", success=True, outcome="goal", x=41, y=0, end_x=52, end_y=2,
                set_play="penalty", body_part="right_foot")  # fmt: skip
            add(period, 90, "shot", b, f"{other}3", success=False, outcome="", x=-45, y=0, end_x=-52, end_y=1,
                detail="own-goal", body_part="other")  # fmt: skip
        add(period, round(period.duration_s * rate_hz) - 1, "period-end", None)
    return events_table(rows)


def utc(day: int = 1, hour: int = 18) -> datetime:
    return datetime(2026, 3, day, hour, 30, tzinfo=UTC)


def assert_same(a: Match, b: Match, starts: bool = True, by_name: bool = False, label: bool = True) -> None:
    """Fail unless two matches hold the same; `by_name` compares players by id, whatever their order."""
    assert (a.match_id, a.home, a.away, a.pitch, a.day) == (b.match_id, b.home, b.away, b.pitch, b.day)
    if label:
        assert (a.label, a.invented) == (b.label, b.invented)
    for p, q in zip(a.periods, b.periods, strict=True):
        assert (p.number, p.duration_s, p.home_attacks) == (q.number, q.duration_s, q.home_attacks)
        assert not starts or p.start_utc == q.start_utc
    assert (a.events is None) == (b.events is None)
    if a.events is not None:
        pd.testing.assert_frame_equal(a.events, b.events)
    assert (a.tags is None) == (b.tags is None)
    if a.tags is not None:
        pd.testing.assert_frame_equal(a.tags, b.tags)
    assert (a.tracking is None) == (b.tracking is None)
    if a.tracking is not None:
        s, t = a.tracking, b.tracking
        assert s.rate_hz == t.rate_hz
        assert set(s.players) == set(t.players)
        assert by_name or s.players == t.players
        order = [t.column(p) for p in s.players]
        np.testing.assert_array_equal(s.xy, t.xy[:, order])
        np.testing.assert_array_equal(s.team_index, t.team_index[order])
        for name in ("period", "time_s", "ball", "alive", "owner"):
            np.testing.assert_array_equal(getattr(s, name), getattr(t, name))
            assert getattr(s, name) is None or getattr(s, name).dtype == getattr(t, name).dtype
