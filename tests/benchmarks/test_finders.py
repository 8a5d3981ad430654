"""All finders over a whole match: first answer, answer from memory, room held, beside plain loops over the frames.

Run: pytest tests/benchmarks/test_finders.py -m benchmark --benchmark-enable -s
"""

from __future__ import annotations

import subprocess
import sys
import time

import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.finders import find, finder_names
from tactical_kit.match import forget

pytestmark = pytest.mark.benchmark
ALL_S, MEMORY_MB, AGAIN_S = 6.0, 1000.0, 0.05


@pytest.fixture(scope="module")
def match():
    return tk.demo_match()


def test_all_finders_over_a_match(match):
    """Phases, index and everything else from scratch, one after the other."""
    find(match, "phase")  # imports and first compilation are no part of it
    forget(match)
    seconds = {}
    for name in finder_names():
        started = time.perf_counter()
        find(match, name)
        seconds[name] = time.perf_counter() - started
    print(f"\nall finders: {sum(seconds.values()):.2f} s")
    print("  " + "\n  ".join(f"{name:20} {s:6.3f} s" for name, s in sorted(seconds.items(), key=lambda kv: -kv[1])))
    assert sum(seconds.values()) <= ALL_S


def test_an_answer_from_memory(match):
    for name in finder_names():
        find(match, name)
    again = {}
    for name in finder_names():
        started = time.perf_counter()
        find(match, name)
        again[name] = time.perf_counter() - started
    print(f"\nagain from memory: slowest {max(again.values()) * 1000:.1f} ms ({max(again, key=again.get)})")
    assert max(again.values()) <= AGAIN_S


WATCH = """
import resource
import tactical_kit as tk
from tactical_kit.finders import find, finder_names
match = tk.demo_match()
for name in finder_names():
    find(match, name)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def test_room_held(match):
    """Peak of a whole process, interpreter and libraries included."""
    done = subprocess.run([sys.executable, "-c", WATCH], capture_output=True, text=True, check=True)
    peak = float(done.stdout)
    print(f"\npeak memory of a process with all finders: {peak:.0f} MB")
    assert peak <= MEMORY_MB


def plain_lines(match, seconds: float) -> tuple[float, float]:
    """Seconds that a plain loop over frames takes for the lines and width of both blocks, and the share it did."""
    tracking = match.tracking
    frames = range(0, int(seconds * tracking.rate_hz))
    started = time.perf_counter()
    result = []
    for frame in frames:
        for side in (0, 1):
            players = [tracking.xy[frame, p] for p in range(len(tracking.players)) if tracking.team_index[p] == side]
            there = sorted((p for p in players if np.isfinite(p).all()), key=lambda p: p[0])[1:]
            if len(there) < 8:
                continue
            back = np.mean([p[0] for p in there[:4]])
            first = np.mean([p[0] for p in there[-2:]])
            width = max(p[1] for p in there) - min(p[1] for p in there)
            apart = [np.hypot(*(a - b)) for a in there for b in there]
            result.append((back, first, width, np.mean(apart)))
    return time.perf_counter() - started, len(frames) / len(tracking)


def test_blocks_beside_a_plain_loop(match):
    find(match, "phase")
    forget(match)
    tk.find_phases(match)
    started = time.perf_counter()
    find(match, "block")
    ours = time.perf_counter() - started
    took, share = plain_lines(match, 20.0)
    print(f"\nblocks: {ours:.3f} s; lines, width and distances alone in a plain loop over frames: about {took / share:.0f} s,"
          f" ratio {took / share / ours:.0f}")  # fmt: skip
    assert took / share > ours
