"""Loading a whole match: 90 minutes at 25 Hz.  Run with `pytest tests/benchmarks -m benchmark --benchmark-enable -s`.

Aims: at most 0.15 s, at most 120 MB held.  Beside it stands plain pandas reading the same positions as float32
Parquet in the same run, so that a slow machine shows in both.
"""

import os
import subprocess
import sys
import time
from datetime import date

import numpy as np
import pandas as pd
import pytest

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.sources import Problems, read_cdf, read_match_folder, write_cdf, write_match_folder

MINUTES, RATE = 90, 25
NOISE_M = 0.02  # frame to frame, what is left after a tracking system's own smoothing; an assumption


def whole_match(seed: int = 0) -> Match:
    """22 players and 8 substitutes on smooth random walks with some noise; invented."""
    rng = np.random.default_rng(seed)
    half, players = MINUTES * 60 * RATE // 2, 30
    frames = 2 * half
    knots = rng.normal(0, 1.6, (frames // RATE + 2, players, 2)).cumsum(axis=0)
    knots = 45 * np.sin(knots / 45) * [1.0, 0.65]  # folded back onto the pitch
    at = np.arange(frames) / RATE
    k, share = at.astype(int), (at % 1)[:, None, None]
    xy = (knots[k] * (1 - share) + knots[k + 1] * share + rng.normal(0, NOISE_M, (frames, players, 2))).astype(
        np.float32
    )
    for keeper, side in ((0, -1), (11, 1)):  # the keepers stay near their goals and change ends with their sides
        xy[:, keeper] = xy[:, keeper] / 10 + np.float32([46 * side, 0])
        xy[half:, keeper, 0] *= -1
    ball = np.concatenate([xy[:, 3] + 0.5, np.abs(xy[:, 4, :1]) / 20], axis=1).astype(np.float32)
    xy[:half, 22:] = np.nan
    xy[half:, [7, 8, 9, 10, 18, 19, 20, 21]] = np.nan
    sides = []
    for letter in "ha":
        squad = tuple(
            Player(f"{letter}{i}", f"Player {letter}{i}", letter, i + 1, "GK" if i == 0 else "", i < 11)
            for i in range(15)
        )
        sides.append(Team(letter, f"Side {letter}", "", squad))
    ids = [*(f"h{i}" for i in range(11)), *(f"a{i}" for i in range(11))]
    ids += [*(f"h{i}" for i in range(11, 15)), *(f"a{i}" for i in range(11, 15))]
    tracking = Tracking(
        RATE, np.repeat([1, 2], half).astype(np.int8), np.tile(np.arange(half) / RATE, 2), tuple(ids),
        np.array([i[0] == "a" for i in ids], np.int8), xy, ball,
        np.repeat(rng.random(frames // 250 + 1) > 0.3, 250)[:frames],
        np.repeat(rng.integers(-1, 2, frames // 100 + 1), 100)[:frames].astype(np.int8),
    )  # fmt: skip
    n = 3000
    when = np.sort(rng.integers(0, frames, n))
    events = events_table(
        pd.DataFrame(
            {
                "period": tracking.period[when], "time_s": tracking.time_s[when], "kind": "pass", "success": True,
                "team": np.where(np.arange(n) % 2, "a", "h"), "outcome": "complete", "body_part": "right_foot",
                "player": [f"{'ha'[i % 2]}{i % 7}" for i in range(n)], "x": xy[when, 0, 0].astype(float).round(2),
                "y": xy[when, 0, 1].astype(float).round(2), "end_x": 0.5, "end_y": 0.5,
            }
        )
    )  # fmt: skip
    periods = (Period(1, half / RATE, 1), Period(2, half / RATE, -1))
    return Match("bench", *sides, periods, events=events, tracking=tracking, day=date(2026, 3, 1), invented=True)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("load")
    match = whole_match()
    write_match_folder(match, path / "match")
    columns = {f"p{i}{axis}": match.tracking.xy[:, i, j] for i in range(30) for j, axis in enumerate("xy")}
    columns |= {f"ball_{axis}": match.tracking.ball[:, i] for i, axis in enumerate("xyz")}
    frame = pd.DataFrame({"period": match.tracking.period, "time_s": match.tracking.time_s, **columns})
    frame.to_parquet(path / "plain.parquet")
    match.events.to_parquet(path / "plain_events.parquet")
    sizes = {p.name: p.stat().st_size / 1e6 for p in (path / "match").iterdir()}
    print(
        f"\nmatch folder {sum(sizes.values()):.2f} MB {sizes}; plain {(path / 'plain.parquet').stat().st_size / 1e6:.1f} MB"
    )
    return path


def plain(path):
    """The same with plain pandas: a float32 table, its columns put into one array."""
    table = pd.read_parquet(path / "plain.parquet")
    pd.read_parquet(path / "plain_events.parquet")
    return table.iloc[:, 2:62].to_numpy(np.float32).reshape(len(table), 30, 2), table


@pytest.mark.benchmark(group="load")
def test_load_a_whole_match(benchmark, folder):
    match = benchmark.pedantic(read_match_folder, (folder / "match",), rounds=10, warmup_rounds=1)
    assert len(match.tracking) == MINUTES * 60 * RATE
    ours, theirs = _best(read_match_folder, folder / "match"), _best(plain, folder)
    print(f"\nload: {ours * 1e3:.0f} ms; plain pandas float32: {theirs * 1e3:.0f} ms; ratio {ours / theirs:.2f}")
    assert ours <= 0.15


def _best(call, argument, rounds: int = 15) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call(argument)
        times.append(time.perf_counter() - start)
    return min(times)


MEMORY = """
import gc, re, sys, psutil
import pandas, pyarrow.parquet, scipy.signal
from tactical_kit.sources.match_folder import read_match_folder
gc.collect()
process = psutil.Process()
before = process.memory_info().rss
match = read_match_folder(sys.argv[1])
gc.collect()
held = process.memory_info().rss - before
# Not ru_maxrss: a child process inherits the peak of its parent.
status = open('/proc/self/status').read()
peak = int(re.search(r'VmHWM:\\s+(\\d+) kB', status)[1]) * 1024 - before
print(held, peak, match.tracking.nbytes)
"""


@pytest.mark.benchmark(group="load")
def test_memory_of_a_whole_match(folder):
    """In a fresh process, on Linux; peak while loading included."""
    out = subprocess.run(
        [sys.executable, "-c", MEMORY, str(folder / "match")],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ,
    ).stdout
    held, peak, arrays = (int(v) / 1e6 for v in out.split())
    print(f"\nmemory: {held:.0f} MB held, {peak:.0f} MB at the peak, {arrays:.0f} MB of it arrays")
    assert peak <= 120


@pytest.mark.benchmark(group="write")
def test_write_a_whole_match(benchmark, tmp_path):
    match = whole_match()
    benchmark.pedantic(write_match_folder, (match, tmp_path / "m"), rounds=3)


@pytest.mark.benchmark(group="cdf")
def test_cdf_of_a_whole_match(tmp_path):
    """Written and read line by line: 135,000 lines of JSON; well under a minute each."""
    match = whole_match()
    start = time.perf_counter()
    write_cdf(match, tmp_path / "cdf", Problems())
    written = time.perf_counter()
    back = read_cdf(tmp_path / "cdf", Problems())
    done = time.perf_counter()
    size = sum(p.stat().st_size for p in (tmp_path / "cdf").iterdir()) / 1e6
    print(f"\nCDF, {size:.0f} MB: written in {written - start:.1f} s, read in {done - written:.1f} s")
    assert len(back.tracking) == len(match.tracking)
    assert done - written < 60
    assert written - start < 60
