"""Comparisons of shares, means and rates: groups, differences, and whether they could be chance.

Worked values: the halves 31/37 against 20/34 and the contrast that is not clear (computed, the second from seen).
"""

import dataclasses
import itertools

import numpy as np
import pytest
from scipy.stats import binomtest, fisher_exact

import tactical_kit as tk
from tactical_kit.claims import (
    compare,
    compare_before_after,
    compare_halves,
    compare_means,
    compare_rates,
    compare_score_states,
    newcombe_interval,
    split_by_halves,
    split_by_minute,
    split_by_player,
    split_by_score,
    split_by_substitution,
)
from tactical_kit.claims.compared import round_words
from tactical_kit.claims.rates import ratio_interval, seconds_by_group
from tactical_kit.errors import TacticalKitError
from tactical_kit.finders import find
from tactical_kit.match import Match, Period, Player, Team
from tactical_kit.match.events import events_table


def two_halves(made, first, second, **columns):
    """(count, base) of either half."""
    (a, n), (b, m) = first, second
    won = [*range(a), *range(n, n + b)]
    return made(n + m, won=won, period=[1] * n + [2] * m, **columns)


# -- shares ------------------------------------------------------------------------------------------------


def test_two_halves_that_differ(made):
    found = two_halves(made, (31, 37), (20, 34))
    c = compare_halves(found.where(won=True), of=found, text="They won it less after the break.")
    assert c.difference == pytest.approx(20 / 34 - 31 / 37)
    assert (round(c.interval.low, 4), round(c.interval.high, 4)) == (-0.4364, -0.0394)
    assert c.could_be_chance is False
    assert c.verdict.status == "counted"
    assert c.sentence == (
        "They won it less after the break: first half 31 of 37, 84 %; second half 20 of 34, 59 %: 25 points less in "
        "the second half (95 % interval 4 to 44 points less). Chance alone would seldom make a difference this large."
    )
    assert len(c.moment_ids) == 51 and len(c.base_ids) == 71
    assert fisher_exact([[31, 6], [20, 14]]).pvalue < 0.05  # .0334, computed: another test agrees


def test_a_published_contrast_that_is_not_clear(made):
    found = two_halves(made, (420, 600), (115, 180))
    c = compare_halves(found.where(won=True), found)
    assert c.could_be_chance is True
    assert c.sentence == (
        "first half 420 of 600, 70 %; second half 115 of 180, 64 %: 6 points less in the second half (95 % interval "
        "14 points less to 2 points more). A difference this size could be chance."
    )


@pytest.mark.parametrize(
    ("options", "status", "fits", "words"),
    [
        (dict(less="second half"), "supported", True, "“less often in the second half” is supported. Chance alone would seldom make a difference this large."),
        (dict(more="first half"), "supported", True, "“more often in the first half” is supported. Chance alone would seldom make a difference this large."),
        (dict(more="second half"), "not borne", False, "“more often in the second half” is not borne: it is the other way round. Chance alone would seldom make a difference this large."),
        (dict(less="second half", level=0.999), "undecided", True, "“less often in the second half” cannot be decided: the difference points that way. A difference this size could be chance."),
        (dict(less="first half", level=0.999), "undecided", False, "“less often in the first half” cannot be decided: the difference does not even point that way. A difference this size could be chance."),
        (dict(less="second half", few=35), "too few", True, "Too few to compare: 34 instances in the second half, fewer than 35."),
    ],
)  # fmt: skip
def test_what_was_claimed_of_a_difference(made, options, status, fits, words):
    found = two_halves(made, (31, 37), (20, 34))
    c = compare_halves(found.where(won=True), found, **options)
    assert (c.verdict.status, c.verdict.fits, c.verdict.words) == (status, fits, words)
    assert c.holds is (status == "supported" or (status == "undecided" and fits))


def test_a_group_without_instances(made):
    found = made(20, won=range(5))
    c = compare_halves(found.where(won=True), found, more="second half")
    assert c.sentence == (
        "first half 5 of 20, 25 %; second half 0 of 0. No instances in the second half: there is nothing to compare."
    )
    assert (c.interval, c.could_be_chance, np.isnan(c.difference)) == (None, None, True)


def test_equal_shares(made):
    found = two_halves(made, (10, 20), (10, 20))
    c = compare_halves(found.where(won=True), found)
    assert "50 %: no difference in the second half (95 % interval 28 points less to 28 points more)" in c.numbers


def test_extra_time_is_in_neither_half(made):
    found = made(30, won=range(15), period=[1] * 10 + [2] * 10 + [3] * 10)
    c = compare_halves(found.where(won=True), found)
    assert (c.first.base, c.second.base) == (10, 10)


def test_possessions_widen_a_difference(made):
    found = two_halves(made, (36, 60), (24, 60))
    spells = np.arange(120) // 4
    c = compare_halves(found.where(won=True), found, possession=spells)
    plain = newcombe_interval(24, 60, 36, 60)
    assert c.newcombe == plain
    assert c.interval.low < plain.low and c.interval.high > plain.high
    assert c.notes[0].startswith("120 instances from 30 possessions depend on each other: drawing possessions gives ")
    assert c.notes[0].endswith("; at either end the wider one counts.")
    assert c.notes[0] in str(c)
    with pytest.raises(TacticalKitError) as refused:
        compare_halves(found.where(won=True), found, possession=spells[:3])
    assert str(refused.value) == "3 labels of possessions for 120 instances; one each."


def test_instances_of_a_few_possessions_are_few_in_a_comparison(made):
    found = two_halves(made, (36, 60), (24, 60))
    c = compare_halves(found.where(won=True), found, possession=[*np.arange(60), *np.repeat([91, 92, 93], 20)])
    assert (
        c.verdict.words == "Too few to compare: 60 instances from only 3 possessions in the second half, fewer than 10."
    )


def test_groups_by_column_label_and_the_rest(made):
    found = made(60, won=range(0, 60, 2), route=["short", "long", "direct switch"] * 20, n_for=[3, 4] * 30)
    part = found.where(won=True)
    c = compare(part, found, "route", first="long")
    assert (c.first.name, c.second.name, c.second.base) == ("long", "not long", 40)
    assert c.second.phrase == "where route is not long"
    pair = compare(part, found, "route", first="long", second="short")
    assert (pair.first.base, pair.second.base) == (20, 20)
    own = compare(part, found, ["early"] * 20 + ["late"] * 30 + [""] * 5 + [None] * 5)
    assert (own.first.name, own.first.base, own.second.base) == ("early", 20, 30)
    counts = compare(part, found, "n_for", more="3")
    assert (counts.first.name, counts.verdict.status) == ("3", "supported")
    yes = compare(found, found, "won")
    assert (yes.first.name, yes.second.phrase) == ("no", "where won is yes")


@pytest.mark.parametrize(
    ("by", "options", "sentence"),
    [
        ("route", {}, "there are 3 groups, 'direct switch', 'long', 'short'; say which two to compare, as first and second, or one of them to compare with the rest."),
        ("route", dict(first="shrt"), "group is 'shrt'; expected one of 'direct switch', 'long', 'short'. Did you mean 'short'?"),
        ("route", dict(first="long", second="long"), "'long' is compared with itself; expected another group."),
        ("route", dict(first="long", more="long", less="short"), "more and less are both given; name the group that has more, or the one that has less."),
        ("route", dict(first="long", second="short", more="direct switch"), "group is 'direct switch'; expected one of 'long', 'short'."),
        ("regain_s", {}, "regain_s has no few values to compare; expected one of words, counts, or yes or no."),
        (["a", "b"], {}, "2 labels for 9 moments; expected one each."),
        (3, {}, "by is 3; expected one of the split_by_... functions, the name of a column, or a label for each moment."),
    ],
)  # fmt: skip
def test_groups_that_there_are_not(made, by, options, sentence):
    found = made(9, won=range(4), route=["short", "long", "direct switch"] * 3)
    with pytest.raises(TacticalKitError) as refused:
        compare(found.where(won=True), found, by, **options)
    assert str(refused.value) == sentence


def test_a_part_that_is_none_is_refused(made):
    with pytest.raises(TacticalKitError, match=r"^`moments` must be among the moments in `of`: .*'other'"):
        compare_halves(made(3, finder="other"), made(3))


# -- splits on a match -------------------------------------------------------------------------------------


def passes_of(small, made_rows):
    return tk.Moments.build("pass", made_rows, {"won": "bool"}, {}, small.match_id)


def rows_at(times, team="A", players=()):
    return [
        {"period": p, "start_s": t, "end_s": t + 1, "team": team, "players": players, "won": False} for p, t in times
    ]


def test_score_before_after_and_substitution(small):
    found = passes_of(small, rows_at([(1, 299.0), (1, 300.0), (1, 301.0), (2, 899.9), (2, 900.0)]))
    assert split_by_score(small).label(found).tolist() == ["level", "level", "leading", "leading", "leading"]
    other = passes_of(small, rows_at([(1, 301.0)], team="B"))
    assert split_by_score(small).label(other).tolist() == ["trailing"]
    assert split_by_minute(small, "05:00").label(found).tolist() == ["before 05:00"] + ["after 05:00"] * 4
    sub = split_by_substitution(small, "A Player 12")
    assert sub.label(found).tolist() == ["before A Player 12 came on"] * 4 + ["after A Player 12 came on"]
    assert split_by_substitution(small, "a11").names == ("before A Player 11 went off", "after A Player 11 went off")
    assert sub.find("after") == "after A Player 12 came on"


def test_with_and_without_a_player(small):
    found = passes_of(small, rows_at([(1, 1.0)], players=("a2", "a3")) + rows_at([(1, 2.0)], players=("a3",)))
    assert split_by_player(small, "A Player 2").label(found).tolist() == ["with A Player 2", "without A Player 2"]


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda m: split_by_substitution(m, "A Player 1"),
            "A Player 1 neither came on nor went off; substitutions were of A Player 12, A Player 11.",
        ),
        (
            lambda m: split_by_minute(m, "five"),
            "clock 'five'; expected minutes:seconds as '63:12', or '45+2:13' in added time.",
        ),
        (lambda m: split_by_score(m.with_data(events=None)), "The score needs events; this match has nothing yet."),
        (
            lambda m: compare_before_after(m, find(m, "possession"), find(m, "possession")),
            "before and after what? Give at, as '60:00', or player, who came on or went off.",
        ),
    ],
)
def test_a_split_that_there_is_not(small, call, sentence):
    with pytest.raises(TacticalKitError) as refused:
        call(small)
    assert str(refused.value) == sentence


def test_score_states_and_before_after_on_a_match(small):
    found = passes_of(small, rows_at([(p, 20.0 * i) for p in (1, 2) for i in range(60)]))
    part = found.where(found["start_s"] < 600)
    scores = compare_score_states(small, part, found, first="level", second="leading")
    assert (scores.first.count, scores.first.base, scores.second.base) == (16, 16, 104)
    late = compare_before_after(small, part, found, at="60:00")
    assert (late.first.base, late.second.base, late.second.count) == (105, 15, 0)
    assert late.second.phrase == "after 60:00"
    assert "depend on each other" in str(late)
    sub = compare_before_after(small, part, found, player="a12")
    assert (sub.first.base, sub.second.base) == (105, 15)


# -- means -------------------------------------------------------------------------------------------------


def test_means_that_differ(made):
    found = made(24, period=[1] * 12 + [2] * 12, regain_s=[*np.arange(12.0), *np.arange(12.0) + 20])
    c = compare_means(found, "regain_s", split_by_halves(), more="second half", text="It took them longer")
    assert c.difference == 20
    assert (c.verdict.status, c.exact, c.unit) == ("supported", False, "s")  # 2,704,156 ways are too many
    assert c.sentence.startswith("It took them longer: first half 5.50 s, mean of 12; second half 25.5 s, mean of 12: ")
    assert c.sentence.endswith(
        "p = 0.0001 (values shared out at random). “more in the second half” is supported. Chance alone would seldom make "
        "a difference this large."
    )
    assert "20.0 s more in the second half (95 % interval " in c.sentence
    assert c == c and str(compare_means(found, "regain_s", split_by_halves())) == str(
        compare_means(found, "regain_s", split_by_halves())
    )


def test_few_values_are_shared_out_in_all_ways(made):
    first, second = [1.0, 2, 3, 4, 5, 6], [4.0, 5, 6, 7, 8, 9]
    found = made(12, period=[1] * 6 + [2] * 6, regain_s=[*first, *second])
    c = compare_means(found, "regain_s", split_by_halves(), few=5)
    every = np.array([*first, *second])
    ways = [every[list(w)].mean() - np.delete(every, list(w)).mean() for w in itertools.combinations(range(12), 6)]
    assert c.exact
    assert c.p_value == pytest.approx(np.mean(np.abs(ways) >= 3 - 1e-9))
    assert "(all ways to share out the values)" in c.numbers


def test_means_that_could_be_chance_and_values_that_are_missing(made):
    values = [5.0, 6, 7, 8, np.nan] * 6
    found = made(30, period=[1] * 15 + [2] * 15, regain_s=values)
    c = compare_means(found, "regain_s", split_by_halves(), more="second half")
    assert (c.could_be_chance, c.left_out, c.first.base) == (True, 6, 12)
    assert str(c).endswith("A difference this size could be chance.\n6 moments without regain_s are left out.")


def test_means_need_numbers_and_both_groups(made):
    found = made(12)
    with pytest.raises(TacticalKitError) as refused:
        compare_means(found, "outcome", split_by_halves())
    assert str(refused.value) == "outcome holds no numbers, so it has no mean; expected a column of numbers."
    empty = compare_means(found, "regain_s", split_by_halves())
    assert empty.sentence == (
        "first half 1.00 s, mean of 12; second half none. No instances in the second half: there is nothing to compare."
    )


def test_the_unit_is_the_finders(demo):
    spells = find(demo, "phase").where(side="in")
    c = compare_means(spells, "duration_s", split_by_halves(), match=demo)
    assert c.unit == "s"
    assert c.notes == ()


# -- rates -------------------------------------------------------------------------------------------------


def test_seconds_with_the_ball(small):
    # Ten minutes a half each, but for some seconds around the goal and its kick-off.
    for team, time in (("A", "in possession"), ("B", "out of possession")):
        assert seconds_by_group(small, team, split_by_halves(), time) == pytest.approx(
            {"first half": 600.0, "second half": 600.0}, abs=25
        )
    total = sum(seconds_by_group(small, "A", split_by_halves(), "in play").values())
    assert total == pytest.approx(2400, abs=30)
    scores = seconds_by_group(small, "A", split_by_score(small))
    assert scores == pytest.approx({"level": 300.0, "leading": 900.0}, abs=25)
    minute = seconds_by_group(small, "A", split_by_minute(small, "05:00"))
    assert minute == pytest.approx({"before 05:00": 300.0, "after 05:00": 900.0}, abs=25)
    assert sum(scores.values()) == pytest.approx(sum(minute.values()), abs=1e-6)
    assert seconds_by_group(small, "B", split_by_score(small)).keys() == {"trailing"}


@pytest.mark.parametrize(("a", "b"), [(12, 7), (0, 9), (9, 0), (1, 30), (5, 5)])
def test_the_interval_of_a_ratio_agrees_with_the_exact_test(a, b):
    found = ratio_interval(a, 1000.0, b, 1500.0)
    clear = 1 not in found
    p = [binomtest(b, a + b, 0.6, alternative=way).pvalue for way in ("less", "greater")]
    assert clear == (min(p) < 0.025)
    mirror = ratio_interval(b, 1500.0, a, 1000.0)
    assert found.low == pytest.approx(1 / mirror.high if mirror.high else np.inf)
    assert (found.low == 0) == (b == 0) and np.isinf(found.high) == (a == 0)


@pytest.fixture(scope="module")
def alternating():
    """Two halves of forty minutes in which the sides have the ball in turn for thirty seconds."""
    rows = []
    for period in (1, 2):
        for i in range(80):
            team = "AB"[i % 2]
            rows += [
                {"period": period, "time_s": 30.0 * i + s, "kind": "pass", "team": team, "player": f"{team.lower()}2",
                 "receiver": f"{team.lower()}3", "success": True, "outcome": "complete", "end_s": 30.0 * i + s + 2,
                 "x": 0.0, "y": 0.0, "end_x": 5.0, "end_y": 0.0, "set_play": ""} for s in (0, 10, 20)
            ]  # fmt: skip
        rows.append({"period": period, "time_s": 2400.0, "kind": "period-end", "team": "", "player": ""})
    teams = [Team(t, f"Side {t}", t, tuple(Player(f"{t.lower()}{i}", f"{t} {i}", t, i, "", True) for i in range(1, 12)))
             for t in "AB"]  # fmt: skip
    return Match("alternating", *teams, (Period(1, 2400.0, 1), Period(2, 2400.0, -1)), events=events_table(rows))


def test_rates_that_differ(alternating):
    match = alternating
    found = passes_of(match, rows_at([(1, 60.0 * i + 5) for i in range(4)] + [(2, 60.0 * i + 5) for i in range(25)]))
    c = compare_rates(match, found, split_by_halves(), more="second half", text="They came more often")
    assert (c.first.count, c.second.count, c.possessions) == (4, 25, 29)
    assert c.ratio == pytest.approx(25 / 4, rel=0.04)
    assert c.verdict.words == (
        "“more often in the second half” is supported. Chance alone would seldom make a difference this large."
    )
    assert c.sentence.startswith("They came more often: first half 4 in ")
    assert "min in possession, " in c.numbers and " times as often in the second half (95 % interval " in c.numbers
    assert c.notes == ()


def test_moments_of_one_possession_are_no_witnesses_of_a_rate(alternating):
    """Five in each of 2 and of 8 possessions: ten witnesses, not fifty; from three, too few."""
    match = alternating
    bundles = [(1, 60.0 * i + s) for i in range(2) for s in range(5)] + [
        (2, 60.0 * i + s) for i in range(8) for s in range(5)
    ]
    c = compare_rates(match, passes_of(match, rows_at(bundles)), split_by_halves(), more="second half")
    assert (c.first.count, c.second.count, c.possessions, c.verdict.status) == (10, 40, 10, "undecided")
    assert c.interval == ratio_interval(2, c.seconds[0], 8, c.seconds[1])
    assert 1 not in ratio_interval(10, c.seconds[0], 40, c.seconds[1])
    assert c.notes == (
        "50 moments came in 10 possessions; those of one depend on each other, and the interval is widened for it.",
    )
    few = compare_rates(match, passes_of(match, rows_at(bundles[:15])), split_by_halves(), more="first half")
    assert few.verdict.words == "Too few to compare: 15 instances from only 3 possessions, fewer than 10."


def test_rates_with_none_few_and_little_time(small):
    none = compare_rates(small, passes_of(small, []), split_by_halves(), team="A", more="second half")
    assert (none.verdict.status, none.verdict.words) == ("no instances", "No instances: there is nothing to compare.")
    few = compare_rates(small, passes_of(small, rows_at([(1, 1.0)])), split_by_halves())
    assert few.verdict.words == "Too few to compare: 1 instance, fewer than 10."
    many = passes_of(small, rows_at([(1, 30.0 * i) for i in range(15)]))
    short = compare_rates(small, many, split_by_minute(small, "01:00"), few=1)
    assert short.verdict.words.startswith(
        "Too little time to compare: 1.0 min before 01:00 in possession, less than 5 min."
    )
    only = compare_rates(small, many, split_by_halves(), first="second half", second="first half")
    assert "none in the second half (95 % interval " in only.numbers and "times or more)" in only.numbers


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (
            lambda m, f: compare_rates(m, f, split_by_halves()),
            "a rate is of one side; the moments are of A and B. Name one as team.",
        ),
        (
            lambda m, f: compare_rates(m, f, split_by_player(m, "a2"), team="A"),
            "time cannot be split so; expected halves, score, a minute or a substitution.",
        ),
        (
            lambda m, f: compare_rates(m, f, split_by_halves(), team="A", time="in posession"),
            "time is 'in posession'; expected one of 'in possession', 'out of possession', 'in play'. "
            "Did you mean 'in possession'?",
        ),
    ],
)
def test_rates_that_there_are_not(small, call, sentence):
    found = passes_of(small, rows_at([(1, 1.0)]) + rows_at([(1, 700.0)], team="B"))
    with pytest.raises(TacticalKitError) as refused:
        call(small, found)
    assert str(refused.value) == sentence


# -- rounding ----------------------------------------------------------------------------------------------


def test_rounding_never_crosses_what_decides():
    assert round_words(0.0034) == "0.003" and round_words(-0.0034) == "-0.003" and round_words(1e-17) == "0.00"
    assert round_words(1.0034, (0.0, 1.0)) == "1.003" and round_words(0.9996, (0.0, 1.0)) == "0.9996"
    assert [round_words(v) for v in (0.0, 4.6, 41.84, 126.2)] == ["0.00", "4.60", "41.8", "126"]


@pytest.mark.parametrize(("p", "shown"), [(0.0496, "0.0496"), (0.0504, "0.0504"), (0.05, "0.05"), (0.0001, "0.0001"), (0.034, "0.03"), (0.996, "0.996"), (1.0, "1.00"), (0.12, "0.12")])  # fmt: skip
def test_a_p_is_not_rounded_over_the_share_called_chance(made, p, shown):
    found = made(24, period=[1] * 12 + [2] * 12, regain_s=np.arange(24.0))
    c = dataclasses.replace(compare_means(found, "regain_s", split_by_halves()), p_value=p)
    assert f"p = {shown} (" in c.numbers


def test_a_ratio_that_is_clear_does_not_reach_one_in_print(small):
    c = compare_rates(small, passes_of(small, rows_at([(1, 30.0), (2, 30.0)])), split_by_halves(), few=1)
    shown = dataclasses.replace(c, interval=dataclasses.replace(c.interval, low=1.0031, high=2.5))
    assert "(95 % interval 1.003 to 2.50 times)" in shown.numbers
