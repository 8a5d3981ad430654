"""The exercises of the teaching notebooks: right answers by more than one way, stubs, and the likely wrong ones.

Hand-made results; common practice, no source.
"""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from tactical_kit.demo import demo_match
from tactical_kit.lessons import (
    check_back_cues,
    check_carry_share,
    check_closest_pair,
    check_enough,
    check_half_back,
    check_hunt_share,
    check_lost_share,
    check_outnumbered,
    check_own_claim,
    check_pressure_share,
    check_rate,
    check_thin_zones,
)
from tactical_kit.match import Match, Period, Player, Team
from tactical_kit.moments import Moments

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


def moments(name, types, *rows):
    """One moment a row, a second apart, with these columns of its own."""
    core = {"period": 1, "team": "h", "players": ()}
    made = [{**core, "start_s": i, "end_s": i + 1, **dict(zip(types, row))} for i, row in enumerate(rows)]
    return Moments.build(name, made, types)


# Of four build-ups one got out; of the three others two were lost in play and one went out.
BUILDS = moments(
    "build-up", {"spare": "float64", "outcome": "str"},
    (2.0, "progressed"), (1.0, "lost"), (0.0, "lost"), (np.nan, "out"),
)  # fmt: skip
PRESSES = moments("press", {"cue": "str"}, ("back pass",), ("pass to keeper",), ("sideline",))
# Five losses: three hunted (one back in time), one not, one that cannot be told.  Two never had the ball back.
LOSSES = moments(
    "counter-press", {"pressed": "boolean", "regained": "bool", "regain_s": "float64"},
    (True, True, 2.0), (True, False, 9.0), (True, False, np.nan), (False, True, 4.0), (None, False, np.nan),
)  # fmt: skip


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


def test_build_ups_with_at_most_one_man_more():
    assert lines(check_outnumbered(["build-up-002", "build-up-003"], BUILDS)) == ("right",)
    few = BUILDS.where(BUILDS["spare"] <= 1)
    assert lines(check_outnumbered(few, BUILDS)) == lines(check_outnumbered(few.table, BUILDS)) == ("right",)
    assert lines(check_outnumbered(BUILDS.table.loc[[2], "moment_id"], BUILDS)) == (
        "not right yet",
        "1 missing",
        "exactly one man more is at most one, too",
    )
    assert lines(check_outnumbered(["build-up-001"], BUILDS))[:2] == ("not right yet", "2 missing")


def test_the_share_lost_in_play_is_of_those_that_did_not_get_out():
    assert lines(check_lost_share(2 / 3, BUILDS)) == ("right",)
    assert lines(check_lost_share(2 / 4, BUILDS)) == (
        "not right yet",
        "too low, by about a quarter",
        "of which build-ups? Those they got out with do not count",
    )
    assert lines(check_lost_share("half", BUILDS)) == ("not right yet", "expected a number, met str")


def test_presses_on_a_ball_back():
    assert lines(check_back_cues({"press-001", "press-002"}, PRESSES)) == ("right",)
    assert lines(check_back_cues(["press-001"], PRESSES)) == (
        "not right yet",
        "1 missing",
        "two cues are asked for, this is one of them",
    )
    assert lines(check_back_cues(["press-003"], PRESSES))[0] == "not right yet"


def test_a_rate_in_thirty_minutes():
    assert lines(check_rate(lambda count, seconds: count / seconds * 1800 if seconds else math.nan)) == ("right",)
    assert lines(check_rate(lambda count, seconds: count / seconds * 1800)) == (
        "not right yet",
        "no time at all: the rate is not known: it stops with ZeroDivisionError: float division by zero",
    )
    in_an_hour = check_rate(lambda count, seconds: count / seconds * 3600 if seconds else math.nan)
    assert lines(in_an_hour)[1] == "ten in a quarter of an hour: too high, by far"


def test_the_share_of_the_hunts():
    assert lines(check_hunt_share(1 / 3, LOSSES)) == ("right",)
    assert lines(check_hunt_share(2 / 5, LOSSES)) == (
        "not right yet",
        "too high, by about a quarter",
        "of which losses? Those that nobody hunted do not count",
    )


def test_half_had_it_back_counts_those_who_never_had():
    """2, 4, 9, never, never: the middle one is 9 s; of those who had it back at all it is 4 s."""
    assert lines(check_half_back(9.0, LOSSES)) == ("right",)
    assert lines(check_half_back(4.0, LOSSES)) == (
        "not right yet",
        "too low, by about a half",
        "this is the middle of those that had it back at all",
    )


def test_how_many_instances_are_enough():
    """Wilson's interval of 32 of 40 is 65.2 to 89.5 %, of 28 of 35 it is 64.1 to 90.0 % (formula by hand)."""
    assert lines(check_enough(40)) == ("right",)
    assert lines(check_enough(35)) == ("not right yet", "too low, by about a tenth")


def test_a_claim_of_ones_own():
    match = demo_match()
    mine = {"text": "Their spells had a pass", "finder": "possession", "where": ["passes at least 0"], "word": "always"}
    assert lines(check_own_claim(mine, match)) == ("right",)
    status, hint = lines(check_own_claim({**mine, "word": "never"}, match))
    assert status == "not right yet" and hint.startswith("it does not hold: ")
    status, hint = lines(check_own_claim({**mine, "finder": "posession"}, match))
    assert status == "not right yet" and "possession" in hint
    assert lines(check_own_claim("a sentence", match)) == (
        "not right yet",
        "expected a dict with the keys of a claim, met str",
    )
    assert lines(check_own_claim({"finder": "shot"}, match)) == ("not right yet", "the claim has no 'text' yet")


@pytest.mark.parametrize(
    "check",
    [
        lambda a: check_closest_pair((a, a), NETWORK, MATCH),
        lambda a: check_carry_share(a, PROGRESSION),
        lambda a: check_thin_zones(a, PRESSURE),
        lambda a: check_pressure_share(lambda pressure: a),
        lambda a: check_outnumbered(a, BUILDS),
        lambda a: check_lost_share(a, BUILDS),
        lambda a: check_back_cues(a, PRESSES),
        lambda a: check_rate(lambda count, seconds: a),
        lambda a: check_hunt_share(a, LOSSES),
        lambda a: check_half_back(a, LOSSES),
        check_enough,
        lambda a: check_own_claim(a, MATCH),
    ],
)
def test_stubs_are_not_done_yet(check):
    assert lines(check(...)) == STUB
