"""Whole-match figures against published ranges; each range's source stands in `tactical_kit.demo.realism.ROWS`."""

import pandas as pd
import pytest

from tactical_kit.demo import simulate
from tactical_kit.demo.realism import ROWS, realism_table

SEEDS = range(101, 121)  # not the seeds the tuning was done on


def outside(table):
    wrong = table[~table["inside"]]
    return [f"{r.row}: {r.value:.2f} ({r.least:.2f}-{r.most:.2f}), expected {r.low:g}-{r.high:g}"
            for r in wrong.itertuples()]


def test_the_demonstration_match_lies_inside_every_range(made):
    assert outside(realism_table(made.match)) == []


def test_another_seed_lies_inside_every_range():
    assert outside(realism_table(simulate(seed=SEEDS[0], rate_hz=5).match)) == []


def test_every_row_says_where_its_range_comes_from():
    assert all(len(row.source) > 10 and row.low < row.high for row in ROWS)


@pytest.mark.accuracy
def test_twenty_seeds_lie_inside_every_range(capsys):
    tables = [realism_table(simulate(seed=seed).match).assign(seed=seed) for seed in SEEDS]
    every = pd.concat(tables)
    summary = every.groupby("row", sort=False).agg(mean=("value", "mean"), least=("least", "min"), most=("most", "max"),
                                                   low=("low", "first"), high=("high", "first"),
                                                   seeds_inside=("inside", "sum"))
    with capsys.disabled():
        print("\n" + summary.round(2).to_string())
    assert {seed: outside(t) for seed, t in zip(SEEDS, tables, strict=True) if outside(t)} == {}
