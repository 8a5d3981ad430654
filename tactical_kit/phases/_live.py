"""When the ball is in play: runs of live time, from the tracking or from the events."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from tactical_kit.match import Match
from tactical_kit.match.runs import runs_of

__all__ = ["BALL_KINDS", "Run", "Spell", "live_runs_from_events", "live_runs_from_tracking", "outcome_of"]

# (start_s, side, how it began, x, y in the pitch frame)
Spell = tuple[float, int, str, float, float]

BALL_KINDS = (
    "pass", "carry", "shot", "take-on", "tackle", "interception", "recovery", "clearance", "block", "duel", "save",
    "claim", "touch",
)  # fmt: skip
_GOAL_CELEBRATED_S = 1.0  # a shot without an end: the ball is in the net about this long after it was struck


@dataclass
class Run:
    """One stretch of play between two dead balls (or gaps in the data); its spells are filled in later."""

    period: int
    period_row: int
    start_s: float
    end_s: float
    first: int = -1  # half-open frames of the tracking
    last: int = -1
    after_gap: bool = False  # the data have a gap before it, the ball was in play on both sides
    before_gap: bool = False
    outcome: str = ""  # what stopped play
    restart_end: tuple[float, float] = (float("nan"), float("nan"))
    spells: list[Spell] = field(default_factory=list)


def live_runs_from_tracking(match: Match) -> list[Run]:
    """Return the runs of frames in which the ball is alive, cut at gaps in the data."""
    tracking = match.tracking
    assert tracking is not None
    numbers = [p.number for p in match.periods]
    step = 1 / tracking.rate_hz
    pairs = runs_of(tracking.alive, tracking.segments)
    runs = [
        Run(
            int(tracking.period[a]), numbers.index(int(tracking.period[a])), float(tracking.time_s[a]),
            float(tracking.time_s[b - 1] + step), int(a), int(b),
        )
        for a, b in pairs
    ]  # fmt: skip
    for before, after in itertools.pairwise(runs):
        if before.last == after.first and before.period == after.period:
            before.before_gap = after.after_gap = True
    return runs


def live_runs_from_events(match: Match) -> list[Run]:
    """Return the runs of play that the events imply: from each restart to what stopped play.

    The ball is dead from an "out", a foul that was given, an offside, a goal or the end of a period until the
    next restart (an action with `set_play`).  A restart that nothing stopped before counts from itself: the
    ball is taken to be dead since the end of the last action.
    """
    events = match.events
    assert events is not None
    runs: list[Run] = []
    for row, period in enumerate(match.periods):
        part = events[events["period"] == period.number]
        start: float | None = None
        last_end, stop, why = 0.0, None, ""
        columns = ["time_s", "end_s", "kind", "set_play", "outcome"]
        for time_s, end_s, kind, set_play, outcome in part[columns].itertuples(index=False):
            if kind in BALL_KINDS:
                if start is None:
                    start, stop, last_end = float(time_s), None, float(time_s)
                elif set_play:
                    _close(runs, period.number, row, start, stop if stop is not None else last_end, time_s, why)
                    start, stop, last_end = float(time_s), None, float(time_s)
                    why = ""
                elif stop is not None and time_s > stop and why == "foul":
                    stop, why = None, ""  # play went on: advantage
                ends = end_s if np.isfinite(end_s) else time_s
                last_end = max(last_end, float(ends))
                if kind == "shot" and outcome == "goal" and stop is None:
                    stop, why = float(end_s if np.isfinite(end_s) else time_s + _GOAL_CELEBRATED_S), "goal"
            elif kind in ("out", "offside", "foul", "period-end") and stop is None and start is not None:
                stop, why = float(time_s), kind
        if start is not None:
            end = stop if stop is not None else max(last_end, start)
            _close(runs, period.number, row, start, end, period.duration_s, why or "period-end")
    return runs


def _close(runs: list[Run], period: int, row: int, start: float, end: float, latest: float, why: str) -> None:
    end = min(end, float(latest))
    if end > start:
        runs.append(Run(period, row, start, end, outcome=why))


def outcome_of(kinds: list[str], outcomes: list[str]) -> str:
    """Return what stopped play, from the kinds and outcomes of the events around the end of a run."""
    for kind, outcome in zip(kinds, outcomes):
        if kind == "shot" and outcome == "goal":
            return "goal"
        if kind in ("out", "foul", "offside", "period-end"):
            return kind
    return ""
