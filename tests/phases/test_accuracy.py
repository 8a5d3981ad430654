"""Phases against the simulator's truth: what its script told the agents, frame by frame.

The truth is not computed from positions, and the rules were written from the words of the phases and tried on
seeds 1000-1009 only; seeds 1-20 are for the table alone.  `pytest -m accuracy` runs all twenty and prints it;
plain `pytest` runs one at a bar that a broken detector would fail.  What the table does not say: the agents are
simulated, so it is no figure for real matches.  Source of the bar 0.85: the project's own goal.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pytest

from tactical_kit.phases import IN_PHASES, OUT_PHASES, find_phases, phase_codes

GOAL = 0.85


@dataclass
class Score:
    """Frames by true and found phase; the last column holds frames in which the wrong side was said to have the ball.

    inside is (5, 6), outside (6, 7); strayed_* are the found phases of the frames in that last column, so that they
    count as false alarms of what was found as well as misses of what was true.
    """

    inside: np.ndarray
    outside: np.ndarray
    strayed_in: np.ndarray
    strayed_out: np.ndarray

    def __add__(self, other: Score) -> Score:
        return Score(*(a + b for a, b in zip(vars(self).values(), vars(other).values())))

    def f1(self, side: str) -> np.ndarray:
        """F1 of each class: 2 TP / (2 TP + FP + FN) over all frames."""
        table, strayed = (self.inside, self.strayed_in) if side == "in" else (self.outside, self.strayed_out)
        hit = np.diag(table).astype(float)
        found = table[:, :-1].sum(axis=0) + strayed
        return 2 * hit / np.maximum(found + table.sum(axis=1), 1)

    @property
    def macro(self) -> float:
        """Mean of the F1 of the 5 + 6 classes, each class counted once."""
        return float(np.concatenate([self.f1("in"), self.f1("out")]).mean())

    @property
    def owner(self) -> float:
        """Share of frames in which the right side was said to have the ball."""
        return float(1 - self.inside[:, -1].sum() / self.inside.sum())

    def text(self) -> str:
        lines = []
        for side, names, table in (("in", IN_PHASES, self.inside), ("out", OUT_PHASES, self.outside)):
            share = table / np.maximum(table.sum(axis=1, keepdims=True), 1) * 100
            lines.append(
                f"{side + ' possession: true (row), found (column), %':46}"
                + "".join(f"{n[:12]:>13}" for n in (*names, "wrong side"))
                + f"{'frames':>10}{'F1':>7}"
            )
            for name, row, total, f1 in zip(names, share, table.sum(axis=1), self.f1(side)):
                lines.append(f"{name:46}" + "".join(f"{v:13.1f}" for v in row) + f"{total:10d}{f1:7.3f}")
            lines.append(f"macro {side}: {self.f1(side).mean():.3f}")
        lines.append(f"macro of all 11: {self.macro:.3f}; side with the ball right in {self.owner:.1%} of frames")
        return "\n".join(lines)


def score(match, truth, frames=None, **thresholds) -> Score:
    """Compare the phases found in a match with the truth in each frame that has one.

    `frames` is the tracking that the truth goes with, where the match itself was left without.
    """
    tracking = frames or match.tracking
    codes = phase_codes(find_phases(match, **thresholds), match, tracking.period, tracking.time_s)
    wrong = codes.team != np.asarray(truth.owner)
    tables = []
    for names, true, found in (
        (IN_PHASES, truth.in_phase, codes.in_phase),
        (OUT_PHASES, truth.out_phase, codes.out_phase),
    ):
        true = as_codes(true, names)
        judged = true >= 0
        table = np.zeros((len(names), len(names) + 1), int)
        column = np.where(wrong | (found < 0), len(names), found)
        np.add.at(table, (true[judged], column[judged]), 1)
        astray = (wrong | ~judged) & (found >= 0)
        tables.append((table, np.bincount(found[astray], minlength=len(names))))
    return Score(tables[0][0], tables[1][0], tables[0][1], tables[1][1])


def as_codes(phase, names) -> np.ndarray:
    """Words of the phases as codes, -1 for none; codes pass through."""
    phase = np.asarray(phase)
    if phase.dtype.kind in "iu":
        return phase.astype(int)
    codes = np.full(len(phase), -1)
    for i, name in enumerate(names):
        codes[phase == name] = i
    return codes


@lru_cache(maxsize=2)
def simulated(seed: int):
    import tactical_kit.demo as demo

    return demo.simulate(seed=seed)


def test_score_by_hand(sketch):
    """Truth equal to what is found scores 1; one wrong side and one wrong phase count as worked out here."""
    match = sketch().play(4, 0, ((-40, 0), (-35, 0)), began="goal-kick", lines=(40, 60)).match()
    n = len(match.tracking)
    build, mid, low = IN_PHASES.index("build-up"), OUT_PHASES.index("mid-block"), OUT_PHASES.index("low block")

    class Truth:
        owner = np.zeros(n, int)
        in_phase = np.array(["build-up"] * n, dtype=object)
        out_phase = np.full(n, mid)

    whole = score(match, Truth)
    assert whole.f1("in")[build] == 1 and whole.f1("out")[mid] == 1 and whole.owner == 1
    assert whole.macro == pytest.approx(2 / 11)
    Truth.owner = np.where(np.arange(n) < 25, 1, 0)  # 25 of 100 frames belong to the other side
    Truth.out_phase = np.where(np.arange(n) < 50, low, mid)  # and 50 are another block
    part = score(match, Truth)
    assert part.owner == 0.75
    assert part.f1("in")[build] == pytest.approx(2 * 75 / (100 + 100))
    assert part.f1("out")[mid] == pytest.approx(2 * 50 / (100 + 50)) and part.f1("out")[low] == 0


@pytest.mark.timeout(300)
def test_phases_of_one_simulated_match():
    """A broken detector fails here; the seed is one of development, so these are no figures to quote."""
    result = simulated(1000)
    match, truth = result.match, result.truth
    tracking = without_owner(match.tracking)
    full = score(match.with_data(tracking=tracking), truth)
    assert full.macro >= 0.80 and min(*full.f1("in"), *full.f1("out")) >= 0.6, "\n" + full.text()
    alone = score(match.with_data(events=None, tracking=tracking), truth)
    assert alone.macro >= 0.75, "\n" + alone.text()
    coarse = score(match.with_data(tracking=None), truth, tracking)
    assert coarse.macro >= 0.65, "\n" + coarse.text()


@pytest.mark.timeout(300)
def test_phases_of_a_simulated_match_tile_its_live_time():
    match = simulated(1000).match
    tracking = match.tracking
    codes = phase_codes(find_phases(match), match, tracking.period, tracking.time_s)
    for values in codes:
        np.testing.assert_array_equal(values >= 0, tracking.alive)


def without_owner(tracking):
    from dataclasses import replace

    return replace(tracking, owner=None)


@pytest.mark.accuracy
@pytest.mark.timeout(3600)
def test_phases_of_twenty_simulated_matches(capsys):
    """The table of ACCURACY.md: frames of seeds 1-20 pooled, F1 per class, mean over the 11 classes."""
    totals = {"events and tracking": [], "tracking alone": [], "events alone": []}
    for seed in range(1, 21):
        result = simulated(seed)
        match, truth = result.match, result.truth
        tracking = without_owner(match.tracking)
        totals["events and tracking"].append(score(match.with_data(tracking=tracking), truth))
        totals["tracking alone"].append(score(match.with_data(tracking=tracking, events=None), truth))
        totals["events alone"].append(score(match.with_data(tracking=None), truth, tracking))
    with capsys.disabled():
        for name, scores in totals.items():
            each = [s.macro for s in scores]
            print(f"\n== {name}: seeds 1-20, macro by match {min(each):.3f} to {max(each):.3f}")
            print(sum(scores[1:], scores[0]).text())
    pooled = sum(totals["events and tracking"][1:], totals["events and tracking"][0])
    assert pooled.macro >= GOAL
