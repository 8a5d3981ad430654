"""The exercises of "Reading the charts": right answers by more than one way, stubs, and the likely wrong ones.

Hand-made results; common practice, no source.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from tactical_kit.lessons import check_carry_share, check_closest_pair, check_pressure_share, check_thin_zones
from tactical_kit.match import Match, Period, Player, Team

STUB = ("not done yet", "replace the `...` in the cell above with your answer and run both cells")
HOME = Team("h", "Home", players=tuple(Player(f"h{i}", f"Player {i}", "h", i) for i in (1, 2, 3)))
MATCH = Match("m", HOME, Team("a", "Away"), (Period(1, 2700.0, 1),))
# h1 to h2: 12 passes in 90 minutes; h3 came on and gave h1 6 in 30: eighteen for each 90.
NETWORK = SimpleNamespace(
    links=pd.DataFrame(
        {
            "player": ["h1", "h3", "h2"],
            "receiver": ["h2", "h1", "h1"],
            "passes": [12, 6, 9],
            "per_90": [12.0, 18.0, 9.0],
        }
    )
)
PROGRESSION = SimpleNamespace(zones=pd.DataFrame({"gained_m": [60.0, 40.0], "gained_carry_m": [20.0, 5.0]}))
PRESSURE = SimpleNamespace(zones=pd.DataFrame({"name": ["a", "b", "c", "d"], "seconds": [0.0, 4.8, 5.0, 0.2]}))


def lines(verdict):
    return (verdict.status, *verdict.hints)


@pytest.mark.parametrize("answer", [("h3", "h1"), ["Player 3", "Player 1"], pd.Series(["h3", "h1"])])
def test_the_closest_pair(answer):
    assert lines(check_closest_pair(answer, NETWORK, MATCH)) == ("right",)


@pytest.mark.parametrize(
    ("answer", "hint"),
    [
        (("h1", "h2"), "this pair has the most passes, but had more minutes together than another"),
        (("h1", "h3"), "the right members in another order, from place 1 on"),
        (("h2", "h1"), "1 missing"),
        (("h3",), "1 missing"),
        ("Player 3", "1 missing"),
    ],
)
def test_another_pair(answer, hint):
    verdict = check_closest_pair(answer, NETWORK, MATCH)
    assert (verdict.status, verdict.hints[0]) == ("not right yet", hint)


def test_of_two_pairs_as_close_either_is_right():
    links = NETWORK.links.assign(per_90=[18.0, 18.0, 9.0])
    for pair in (("h1", "h2"), ("h3", "h1")):
        assert check_closest_pair(pair, SimpleNamespace(links=links), MATCH).ok


def test_the_share_of_carries():
    assert lines(check_carry_share(0.25, PROGRESSION)) == ("right",)
    assert lines(check_carry_share((20 / 60 + 5 / 40) / 2, PROGRESSION)) == (
        "not right yet",
        "too low, by about a tenth",
    )
    assert lines(check_carry_share(25, PROGRESSION)) == (
        "not right yet",
        "a hundred times off: per cent asked for as a share from 0 to 1, or the reverse?",
    )


def test_thin_zones_have_some_seconds_and_fewer_than_five():
    assert lines(check_thin_zones({"d", "b"}, PRESSURE)) == ("right",)
    assert lines(check_thin_zones(["b", "d", "c"], PRESSURE)) == ("not right yet", "1 that does not belong")
    assert lines(check_thin_zones(["a", "b", "d"], PRESSURE)) == (
        "not right yet",
        "1 that does not belong",
        "a zone without a second is empty, not thin",
    )


def by_mean(pressure):
    known = pressure[~np.isnan(pressure)]
    return (known >= 30).mean() if len(known) else np.nan


def by_counting(pressure):
    high = sum(1 for p in pressure if p >= 30)
    known = sum(1 for p in pressure if p == p)
    return high / known if known else float("nan")


@pytest.mark.parametrize("function", [by_mean, by_counting])
def test_the_share_under_pressure_by_two_ways(function):
    assert lines(check_pressure_share(function)) == ("right",)


def test_the_plausible_share_that_counts_the_unknown_as_low():
    verdict = check_pressure_share(lambda pressure: (pressure >= 30).mean())
    assert lines(verdict) == (
        "not right yet",
        "an unknown pressure is neither high nor low: too low, by about a quarter",
        "nothing is known: the share is unknown, too: a number, where there is nothing to tell it from",
    )


def test_more_than_in_place_of_at_least():
    verdict = check_pressure_share(lambda p: (p[~np.isnan(p)] > 30).mean() if (p == p).any() else np.nan)
    assert lines(verdict) == ("not right yet", "exactly 30 % counts as under pressure: too low, by far")


@pytest.mark.parametrize(
    "check",
    [
        lambda a: check_closest_pair((a, a), NETWORK, MATCH),
        lambda a: check_carry_share(a, PROGRESSION),
        lambda a: check_thin_zones(a, PRESSURE),
        lambda a: check_pressure_share(lambda pressure: a),
    ],
)
def test_stubs_are_not_done_yet(check):
    assert lines(check(...)) == STUB
