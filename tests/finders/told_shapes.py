"""What each side of the simulated matches was told: its shape by minute, with and without the ball.

Read from the story (`story_lanterns.toml`: plans and named shapes), never from where the players stood.
"""

import tomllib
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd

# Which of the three told shapes a phase shows.  The way from build-up to attack (progression) has none of its own.
TOLD_IN = {
    "build-up": "build",
    "final third": "attack",
    "high press": "block",
    "mid-block": "block",
    "low block": "block",
}
# Back lines as the names of the story say them; "3+1" is three and one pivot.
BACK_LINE = {
    "3+1 build": 3, "2+2 build": 2, "2-3-5 attack": 2, "3-2-5 attack": 3, "2+2 box build": 2, "3+2 build": 3,
    "2-4-4 attack": 2, "3-4-3 attack": 3, "4-4-2 block": 4, "4-1-4-1 block": 4, "4-2-3-1 block": 4, "5-4-1 block": 5,
}  # fmt: skip


@cache
def story() -> dict:
    return tomllib.loads((files("tactical_kit.demo") / "story_lanterns.toml").read_text(encoding="utf-8"))


@cache
def orders(team: str) -> pd.DataFrame:
    """Rows (minute, build, attack, block) of one side, every minute with all that is then in force."""
    side = next(story()[s] for s in ("home", "away") if story()[s]["team_id"] == team)
    table = pd.DataFrame([{c: p.get(c) for c in ("minute", "build", "attack", "block")} for p in side["plan"]])
    return table.ffill()


def minute_of(period: int, time_s: float) -> float:
    """Minute of the plans: added time of the first half counts as the 45th."""
    return min(time_s / 60, 45.0) if period == 1 else 45 + time_s / 60


def told(team: str, phase: str, period: int, start_s: float, end_s: float) -> dict[str, float]:
    """Names that were in force in a span, with their share of it."""
    table = orders(team)
    a = minute_of(period, start_s)
    b = max(minute_of(period, end_s), a + 1e-3)
    edges = [*table["minute"].tolist(), np.inf]
    shares: dict[str, float] = {}
    for name, m0, m1 in zip(table[TOLD_IN[phase]], edges, edges[1:]):
        part = max(0.0, min(b, m1) - max(a, m0)) / (b - a)
        if part > 0:
            shares[name] = shares.get(name, 0.0) + part
    return shares


def changes(team: str, phase: str) -> list[float]:
    """Minutes at which another shape was told for a phase."""
    table = orders(team)
    names = table[TOLD_IN[phase]]
    return table.loc[(names != names.shift()) & (table.index > 0), "minute"].tolist()


@cache
def places(name: str) -> np.ndarray:
    """The told places of the ten outfield slots as (depth 0-1, side -1 to 1)."""
    return np.array([v for slot, v in story()["shapes"][name].items() if slot != "GK"], float)
