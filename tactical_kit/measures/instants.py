"""What stood at an instant: the phase of each side and the score, looked up for many instants at once."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from tactical_kit.match import Match
from tactical_kit.measures.words import SCORE_STATES
from tactical_kit.moments import Moments

__all__ = ["Goals", "PhaseSpans", "goals_of", "score_codes", "side_codes"]

FAR = 1e5  # seconds; more than any period lasts, so that period * FAR + time_s orders a whole match
Goals = tuple[NDArray[np.float64], NDArray[np.float64]]  # instants of the home and of the away side's goals


class PhaseSpans:
    """The phases of one side, ready to be looked up by instant."""

    def __init__(self, phases: Moments | None, team: str, names: list[str]) -> None:
        table = phases.table[phases.table["team"] == team] if phases is not None else None
        if table is None or not len(table):
            self.start = self.end = np.empty(0)
            self.code = np.empty(0, np.int8)
            return
        base = table["period"].to_numpy(float) * FAR
        order = np.argsort(base + table["start_s"].to_numpy(), kind="stable")
        self.start = (base + table["start_s"].to_numpy())[order]
        self.end = (base + table["end_s"].to_numpy())[order]
        self.code = pd.Index(names).get_indexer(pd.Index(table["phase"])).astype(np.int8)[order]

    def at(self, period: ArrayLike, time_s: ArrayLike) -> NDArray[np.int8]:
        """Code of the phase whose half-open span holds each instant, -1 none."""
        key = np.asarray(period, float) * FAR + np.asarray(time_s, float)
        if not len(self.start):
            return np.full(key.shape, -1, np.int8)
        row = np.searchsorted(self.start, key, side="right") - 1
        inside = (row >= 0) & (key < self.end[row])
        return np.where(inside, self.code[row], -1).astype(np.int8)


def goals_of(match: Match) -> Goals | None:
    """Instants (as keys) of the goals of the home and of the away side; None without events."""
    if match.events is None:
        return None
    shots = match.events[
        (match.events["kind"] == "shot") & (match.events["outcome"] == "goal") & (match.events["period"] < 5)
    ]
    key = shots["period"].to_numpy(float) * FAR + shots["time_s"].to_numpy()
    side = side_codes(shots["team"], match).astype(int)
    side = np.where((shots["detail"] == "own-goal").to_numpy() & (side >= 0), 1 - side, side)
    return np.sort(key[side == 0]), np.sort(key[side == 1])


def score_codes(goals: Goals | None, period: ArrayLike, time_s: ArrayLike) -> NDArray[np.int8]:
    """Score state of both sides at each instant, (N, 2); a goal counts for what comes after it."""
    key = np.asarray(period, float) * FAR + np.asarray(time_s, float)
    if goals is None:
        return np.full((len(key), 2), -1, np.int8)
    lead = np.sign(np.searchsorted(goals[0], key) - np.searchsorted(goals[1], key))
    level = SCORE_STATES.index("level")
    return np.column_stack([level - lead, level + lead]).astype(np.int8)


def side_codes(team: pd.Series, match: Match) -> NDArray[np.int8]:
    """Return 0 for the home side, 1 for the away side, -1 for neither, one a row."""
    return pd.Index([t.team_id for t in match.teams]).get_indexer(pd.Index(team)).astype(np.int8)
