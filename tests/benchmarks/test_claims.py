"""Speed of claims on the demonstration match, beside a bootstrap by a plain loop.

Run: pytest tests/benchmarks/test_claims.py -m benchmark --benchmark-enable -s
"""

import time

import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.claims import claim, compare_means, run_claim_sheet, split_by_halves
from tactical_kit.claims.base import possessions_of
from tactical_kit.claims.resample import DRAWS, resampled_share
from tactical_kit.story import match_story

pytestmark = pytest.mark.benchmark


@pytest.fixture(scope="module")
def match():
    return tk.demo_match()


@pytest.fixture(scope="module")
def spells(match):
    return tk.find_phases(match).where(side="in")


def test_a_claim_of_five_hundred_moments(match, spells, benchmark):
    part = spells.where(phase="build-up")
    claim("Mostly", part, of=spells, match=match)  # what the match remembers is worked out once
    benchmark.pedantic(lambda: claim("Mostly", part, of=spells, match=match), rounds=5)
    assert benchmark.stats.stats.min < 0.15


def test_means_by_permutation(match, spells, benchmark):
    benchmark.pedantic(lambda: compare_means(spells, "duration_s", split_by_halves(), match=match), rounds=3)
    assert benchmark.stats.stats.min < 0.8


def test_a_sheet_of_twenty_claims(match, tmp_path, benchmark):
    one = '[[claim]]\ntext = "{0}"\nfinder = "possession"\nwhere = ["passes at least {0}"]\nword = "mostly"\n'
    path = tmp_path / "claims.toml"
    path.write_text("".join(one.format(i) for i in range(20)), encoding="utf-8")
    run_claim_sheet(match, path)
    benchmark.pedantic(lambda: run_claim_sheet(match, path), rounds=3)
    assert benchmark.stats.stats.min < 2.0


def test_against_a_plain_loop(match, spells):
    hit, labels = (spells["phase"] == "build-up").to_numpy(bool), possessions_of(spells, match)
    start = time.perf_counter()
    resampled_share(hit, labels)
    ours = time.perf_counter() - start
    groups = [hit[labels == one] for one in np.unique(labels)]
    rng, drawn = np.random.default_rng(0), []
    start = time.perf_counter()
    for _ in range(DRAWS // 10):
        chosen = np.concatenate([groups[i] for i in rng.integers(0, len(groups), len(groups))])
        drawn.append(chosen.mean())
    loop = 10 * (time.perf_counter() - start)
    print(f"\ndrawing possessions: {ours * 1000:.0f} ms, plain loop {loop * 1000:.0f} ms, {loop / ours:.0f} times")
    assert loop > 3 * ours


def test_the_story_of_a_match_that_was_searched_before(match, benchmark):
    match_story(match, progress=False)
    benchmark.pedantic(lambda: match_story(match, progress=False), rounds=3)
    assert benchmark.stats.stats.min < 2.0
