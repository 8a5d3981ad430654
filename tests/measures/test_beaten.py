"""Opponents and unit lines beaten, against hand geometry, the published count and a plain loop."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Period
from tactical_kit.measures.beaten import BEATEN_COLUMNS, beaten_by, lines_passed, opponents_beaten
from tactical_kit.measures.passes import pass_table
from tactical_kit.measures.unit_lines import FIRST, UnitLines, unit_lines

# A block of ten by depth: two in the first line, four in midfield, four at the back (hand-written).
BLOCK = [3, 3, 20, 20, 20, 20, 34, 34, 34, 34]


@pytest.mark.parametrize(("start", "end", "count"), [(0, 15, 3), (0, 5, 0), (15, 0, 0), (0, 50, 6), (10, 30, 1)])
def test_count_of_opponents(start, end, count):
    """Opponents at 5, 10, 10, 20, 30, 47; strict at both ends.  Source: count after Steiner et al. 2019, worked by
    hand; a back pass beats nobody (design)."""
    assert opponents_beaten([start], [end], [[5, 10, 10, 20, 30, 47]]).sum() == count


def test_who_runs_back_in_time_is_not_beaten_and_who_steps_past_the_ball_is():
    out = opponents_beaten([0], [20], [[10, 10, -1, 10]], [[25, 19.9, -1, 20]])
    assert out.tolist() == [[False, True, False, False]]


def test_unknown_opponents_do_not_count():
    assert not opponents_beaten([0], [20], [[np.nan, 10]], [[10, np.nan]]).any()
    assert not opponents_beaten([np.nan], [20], [[5, 10]]).any()


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6))
def test_count_equals_a_plain_loop_and_adds_up(seed):
    rng = np.random.default_rng(seed)
    start, end = rng.uniform(-50, 50, (2, 5))
    before, after = rng.uniform(-50, 50, (2, 5, 10))
    expected = [
        [s < e and s < b and a < e for b, a in zip(bs, as_)] for s, e, bs, as_ in zip(start, end, before, after)
    ]
    assert opponents_beaten(start, end, before, after).tolist() == expected
    # Standing still, what two passes beat is what one over the whole way beats, but for whoever the first ends at.
    middle = (start + end) / 2
    both = opponents_beaten(start, middle, before) | opponents_beaten(middle, end, before)
    assert (both == opponents_beaten(start, end, before)).all()


@pytest.mark.parametrize(
    ("start", "end", "passed"),  # back, midfield, first
    [
        (0, 25, [False, True, True]),
        (0, 20, [False, False, True]),  # level with the midfield line is not beyond it
        (3, 25, [False, True, False]),  # level with the first line is not in front of it
        (0, 40, [True, True, True]),
        (10, 19.99, [False, False, False]),
        (25, 0, [False, False, False]),
    ],
)
def test_lines(start, end, passed):
    assert lines_passed([start], [end], [BLOCK]).passed[0].tolist() == passed


def test_a_line_needs_its_mean_and_at_least_half_of_its_players():
    # Midfield 14, 14, 24, 26: mean 19.5.  A ball to 20 is beyond the mean and beats two of four: enough.
    block = [-9, -9, 14, 14, 24, 26, 44, 44, 44, 44]
    assert lines_passed([5], [20], [block]).passed[0].tolist() == [False, True, False]
    # 14, 22, 22, 24: mean 20.5.  A ball to 21 is beyond the mean and beats one of four: not enough.
    block = [-9, -9, 14, 22, 22, 24, 44, 44, 44, 44]
    assert lines_passed([5], [21], [block]).passed[0].tolist() == [False, False, False]
    # 10, 10, 10, 24: mean 13.5.  A ball to 12 beats three of four but not the mean.
    block = [-9, -9, 10, 10, 10, 24, 44, 44, 44, 44]
    assert lines_passed([5], [12], [block]).passed[0].tolist() == [False, False, False]


def test_a_line_that_drops_with_the_ball_is_not_beaten():
    dropped = [*BLOCK[:6], 41, 41, 41, 41]
    assert lines_passed([25], [40], [BLOCK]).passed[0].tolist() == [True, False, False]
    assert lines_passed([25], [40], [BLOCK], [dropped]).passed[0].tolist() == [False, False, False]


def test_too_few_opponents_have_no_lines():
    seen = [3, 3, 20, 20, 34, 34, *[np.nan] * 4]
    lines = lines_passed([0], [40], [seen])
    assert not lines.known[0] and not lines.passed.any()
    assert lines_passed([0], [40], [[*seen[:6], 34, *[np.nan] * 3]]).known[0]  # seven are enough


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(
        TacticalKitError,
        match=r"^opponents of shape \(1, 3\) before and \(1, 2\) after for 1 starts and 1 ends; expected one row each "
        r"and the same opponents\.$",
    ):
        opponents_beaten([0], [1], [[1, 2, 3]], [[1, 2]])


# -- with a match: side H plays, side A stands in a 4-4-2 ---------------------------------------------
A_STANDS = {1: (48, 0), 2: (34, -18), 3: (34, -6), 4: (34, 6), 5: (34, 18), 6: (20, -18), 7: (20, -6), 8: (20, 6),
            9: (20, 18), 10: (3, -5), 11: (3, 5)}  # fmt: skip


@pytest.fixture
def one_pass(make_match, make_tracking, pass_row):
    """One pass of a second at 5 Hz from H3 to H6; the ball straight, `z` its height."""

    def build(start, end, z=0.0, sign=1, stands=A_STANDS, ball=None):
        share = np.linspace(0, 1, 6)[:, None]
        path = np.array(start) + share * (np.array(end) - np.array(start)) if ball is None else np.array(ball, float)
        places = {f"A{n}": np.array(p) * sign for n, p in stands.items()}
        places |= {"H3": np.array(start) * sign, "H6": np.array(end) * sign, "H1": np.array((-45, 0)) * sign}
        ball = np.column_stack([path * sign, np.full(6, z)])
        row = pass_row(0.0, "H3", "H6", np.array(start) * sign, np.array(end) * sign)
        match = make_match([row], make_tracking(places, ball), periods=(Period(1, 60.0, sign),))
        return match, pass_table(match)

    return build


def answer_of(built):
    return beaten_by(*built).iloc[0]


@pytest.mark.parametrize("sign", [1, -1])
def test_through_the_midfield_line(one_pass, sign):
    """(0, 0) to (25, 0): beats both forwards (at +-5: through the 10 m between them) and the midfield (+-6: 12 m)."""
    got = answer_of(one_pass((0, 0), (25, 0), sign=sign))
    assert (got.opponents_beaten, got.lines_beaten, got.line, got.how, got.gap_m) == (
        6, 2, "midfield line", "through", 12.0,
    )  # fmt: skip
    assert (got.first_line, got.midfield_line, got.back_line) == ("through", "through", "")
    assert sorted(got.beaten) == ["A10", "A11", "A6", "A7", "A8", "A9"] and set(got.beaten[:2]) == {"A10", "A11"}


def test_around_the_first_line(one_pass):
    """(0, 0) to (4, 24): crosses x = 3 at y = 18, outside the forward at 5."""
    got = answer_of(one_pass((0, 0), (4, 24)))
    assert (got.opponents_beaten, got.line, got.how) == (2, "first line", "around") and np.isnan(got.gap_m)


@pytest.mark.parametrize(("z", "how"), [(2.0, "through"), (2.05, "over")])
def test_over_means_higher_than_two_metres(one_pass, z, how):
    assert answer_of(one_pass((10, 0), (40, 0), z)).how == how


def test_the_balls_own_path_decides(one_pass):
    """Straight it would go through the middle; the ball swings round the outermost midfielder at 18."""
    path = [(10, 0), (14, 12), (18, 22), (22, 22), (24, 10), (25, 0)]
    assert answer_of(one_pass((10, 0), (25, 0))).how == "through"
    assert answer_of(one_pass((10, 0), (25, 0), ball=path)).how == "around"
    # Where the ball is not seen: a straight line along the ground.
    assert answer_of(one_pass((10, 0), (25, 0), ball=np.full((6, 2), np.nan))).how == "through"


def test_the_keeper_does_not_count(one_pass):
    assert answer_of(one_pass((36, 0), (50, 0))).opponents_beaten == 0


def test_what_is_unknown_stays_unknown(one_pass, make_match, pass_row):
    few = {n: A_STANDS[n] for n in (1, 2, 3, 7, 10, 11)}
    got = answer_of(one_pass((0, 0), (25, 0), stands=few))
    assert got.opponents_beaten == 3 and np.isnan(got.lines_beaten) and got.line == ""
    match = make_match([pass_row(0.0, "H3", "H6", (0, 0), (25, 0))])
    table = beaten_by(match, pass_table(match))
    assert table.dtypes.astype(str).to_dict() == BEATEN_COLUMNS
    assert np.isnan(table.opponents_beaten[0]) and np.isnan(table.lines_beaten[0]) and table.beaten[0] == ()


def test_lines_may_be_given(one_pass):
    """Forwards at 3: beaten by a ball to x = 8.  Told that A6 at 20 is one of them, their mean is 8.7: by one to 9."""
    asked = []

    def lines_of(sides, period, time_s, team):
        asked.append((sides.other_outfield.shape, period.tolist(), time_s.tolist(), team))
        lines = unit_lines(sides.other_outfield[..., 0])
        line = np.where(np.array(sides.other_ids)[~sides.other_keeper] == "A6", FIRST, lines.line[0])[None]
        first = sides.other_outfield[0, line[0] == FIRST, 0].mean()
        return UnitLines(line.astype(np.int8), np.array([[34.0, 20.0, first]]), lines.size)

    built = one_pass((0, 0), (8, 0))
    assert beaten_by(*built).lines_beaten[0] == 1  # past the two at 3
    assert beaten_by(*built, lines_of=lines_of).lines_beaten[0] == 0  # short of 8.7
    assert asked == [((1, 10, 2), [1], [0.0], "H")]
    assert beaten_by(*one_pass((0, 0), (9, 0)), lines_of=lines_of).lines_beaten[0] == 1


def test_no_passes_same_columns(one_pass):
    match, table = one_pass((0, 0), (25, 0))
    assert beaten_by(match, table[:0]).dtypes.astype(str).to_dict() == BEATEN_COLUMNS


def test_the_index_of_the_table_is_kept(one_pass):
    match, table = one_pass((0, 0), (25, 0))
    twice = pd.concat([table, table]).set_axis([7, 3])
    assert beaten_by(match, twice).index.tolist() == [7, 3]
    assert isinstance(match, Match)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10**6))
def test_lines_against_a_plain_loop(seed):
    """Own cut of the definition: mean depth at either end, half of the men; who is in a line as `unit_lines` says."""
    rng = np.random.default_rng(seed)
    before = rng.uniform(-30, 45, (6, 10))
    after = before + rng.uniform(-6, 6, (6, 10))
    start, end = rng.uniform(-35, 30, 6), rng.uniform(-10, 50, 6)
    lines = lines_passed(start, end, before, after)
    for i in range(6):
        for line in range(3):
            men = [j for j in range(10) if lines.line[i, j] == line]
            beaten = [j for j in men if start[i] < before[i, j] and after[i, j] < end[i] and start[i] < end[i]]
            was, now = (sum(x[i, j] for j in men) / len(men) for x in (before, after))
            assert lines.passed[i, line] == (start[i] < was and now < end[i] and len(beaten) >= len(men) / 2)
            assert lines.x[i, line] == pytest.approx(now)


@pytest.mark.parametrize("end", [(25, 0), (4, 24), (22, -30), (40, 12), (21, 7)])
def test_way_through_against_shapely(one_pass, end):
    """The straight ball and the row of midfielders (x = 20, y = -18 to 18): through if the two lines cross."""
    from shapely import LineString

    got = answer_of(one_pass((0, 0), end))
    if got.midfield_line:
        crosses = LineString([(0, 0), end]).crosses(LineString([(20, -18), (20, 18)]))
        assert got.midfield_line == ("through" if crosses else "around")
    else:
        assert end[0] <= 20


def test_a_mirrored_pass_beats_the_same_men(one_pass):
    """Left and right are alike: y of everybody the other way round."""
    mirrored = {n: (x, -y) for n, (x, y) in A_STANDS.items()}
    a, b = answer_of(one_pass((0, 3), (25, 9))), answer_of(one_pass((0, -3), (25, -9), stands=mirrored))
    assert a.drop("beaten").equals(b.drop("beaten")) and set(a.beaten) == set(b.beaten)
