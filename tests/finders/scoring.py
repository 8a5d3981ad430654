"""Precision and recall of a finder against what the simulator's script says was meant."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.optimize import linear_sum_assignment


@dataclass(frozen=True)
class Subject:
    """How one finder is scored.

    Parameters
    ----------
    name : str
        Row of the table.
    found : callable
        Takes a match, returns Moments (or a DataFrame with their core columns): what is judged for recall.
    true : callable
        Takes the truth, returns its rows (period, start_s, end_s, team, players, ...).
    tol_s : float
        Starts at most this far apart belong together, s.
    players : int
        So many of the first players of the truth must be among the players found (0: not looked at).
    also_true : callable or None
        Rows of the truth that a finding may fit without being a false alarm, though missing them is no miss
        (attempts that came to nothing, say).
    note : str
        What the row does not say.
    overlap : bool
        Judge by overlap of the spans instead of by their starts (tol_s is then the slack at both ends).
    """

    name: str
    found: Callable
    true: Callable
    tol_s: float
    players: int = 0
    also_true: Callable | None = None
    note: str = ""
    overlap: bool = False


@dataclass
class Count:
    """Hits, misses and false alarms, pooled over matches."""

    hits: int = 0
    misses: int = 0
    false: int = 0
    each: list = field(default_factory=list)

    def add(self, hits: int, misses: int, false: int) -> None:
        self.hits, self.misses, self.false = self.hits + hits, self.misses + misses, self.false + false
        self.each.append((hits, misses, false))

    @property
    def precision(self) -> float:
        """Share of what was found that is true; NaN with nothing found."""
        return self.hits / (self.hits + self.false) if self.hits + self.false else np.nan

    @property
    def recall(self) -> float:
        """Share of what is true that was found; NaN with nothing true."""
        return self.hits / (self.hits + self.misses) if self.hits + self.misses else np.nan


def matched(found: pd.DataFrame, true: pd.DataFrame, subject: Subject) -> tuple[np.ndarray, np.ndarray]:
    """Pair findings with truths, one to one, as many as possible and then the nearest; return the index pairs."""
    if not len(found) or not len(true):
        return np.zeros(0, int), np.zeros(0, int)
    f, t = found, true
    same = f["period"].to_numpy()[:, None] == t["period"].to_numpy()[None, :]
    same &= f["team"].to_numpy(object)[:, None] == t["team"].to_numpy(object)[None, :]
    f0, f1 = (f[c].to_numpy()[:, None] for c in ("start_s", "end_s"))
    t0, t1 = (t[c].to_numpy()[None, :] for c in ("start_s", "end_s"))
    apart = np.abs(f0 - t0)
    near = (f0 < t1 + subject.tol_s) & (t0 < f1 + subject.tol_s) if subject.overlap else apart <= subject.tol_s
    same &= near
    if subject.players:
        who = [set(p) for p in f["players"]]
        wanted = [set(p[: subject.players]) for p in t["players"]]
        same &= np.array([[w <= has for w in wanted] for has in who])
    cost = np.where(same, apart / 1e4, 1.0)
    rows, columns = linear_sum_assignment(cost)
    kept = same[rows, columns]
    return rows[kept], columns[kept]


def score(subject: Subject, match, truth, count: Count) -> Count:
    """Add one match to the count."""
    found = subject.found(match)
    found = found.table if hasattr(found, "table") else found.reset_index(drop=True)
    true = subject.true(truth).reset_index(drop=True)
    rows, _ = matched(found, true, subject)
    left = found.drop(index=found.index[rows])
    if subject.also_true is not None and len(left):
        excused, _ = matched(left.reset_index(drop=True), subject.also_true(truth).reset_index(drop=True), subject)
        left = left.drop(index=left.index[excused])
    count.add(len(rows), len(true) - len(rows), len(left))
    return count


def table(counts: dict[Subject, Count]) -> str:
    """The table as Markdown rows."""
    lines = [
        "| finder | true | found | hits | precision | recall | lowest recall of a match | note |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for s, c in counts.items():
        lows = [h / (h + m) for h, m, _ in c.each if h + m]
        low = f"{min(lows):.2f}" if lows else "-"
        lines.append(
            f"| {s.name} | {c.hits + c.misses} | {c.hits + c.false} | {c.hits} | {c.precision:.3f} | {c.recall:.3f} | {low} | {s.note} |"
        )
    return "\n".join(lines)


@lru_cache(maxsize=2)
def simulate(seed: int):
    """Simulate a match: a Recording with `.match` and `.truth`."""
    from tactical_kit.demo import simulate as run

    return run(seed=seed)


def patterns(kind: str, **equal):
    """Rows of one kind of pattern in the truth, e.g. `patterns("third man", done=True)`."""

    def rows(truth):
        p = truth.patterns
        keep = p["pattern"] == kind
        for column, value in equal.items():
            keep &= (p[column] == value).fillna(False).astype(bool)
        return p[keep]

    return rows
