"""Whatever is played, both sides have exactly one phase at every live instant; found on random sketches."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tactical_kit.phases import find_phases, find_possessions

STROKE = st.tuples(
    st.sampled_from(["play", "play", "play", "dead", "missing", "period", "leave"]),
    st.floats(0.08, 12.0),
    st.integers(0, 1),
    st.tuples(st.floats(-52, 52), st.floats(-34, 34)),
    st.tuples(st.floats(-52, 52), st.floats(-34, 34)),
    st.floats(5, 60),
    st.floats(5, 40),
    st.sampled_from(
        ["", "interception", "recovery", "tackle", "corner", "free-kick", "throw-in", "goal-kick", "header"]
    ),
    st.one_of(st.none(), st.tuples(st.floats(0, 20), st.floats(0, 20))),
)


def draw(sketch, strokes, sign=1):
    s = sketch(rate_hz=12.5, home_attacks=(sign, -sign, sign, -sign, sign))
    s.play(1.0, 0, ((0.0, 0.0), (1.0, 0.0)), began="kick-off")
    gone = 0
    for what, seconds, side, start, end, back, depth, began, hunters in strokes:
        if what == "dead":
            s.dead(seconds, ("out", "foul", "")[int(seconds) % 3], side)
        elif what == "missing":
            s.missing(seconds)
        elif what == "period" and s.period < 4:
            s.next_period().play(1.0, side, ((0.0, 0.0), (1.0, 0.0)), began="kick-off")
        elif what == "leave" and gone < 9:
            s.leaves(f"{'ab'[side]}{gone}")
            gone += 1
        elif what == "play":
            if began == "header":
                s.event("pass", side, *start, detail="header", success=seconds > 3, end_s=s.time + 0.3)
            s.play(seconds, side, (start, end), (back, back + depth), began="" if began == "header" else began,
                   hunters=hunters, passes=seconds > 2)  # fmt: skip
    return s


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(strokes=st.lists(STROKE, max_size=12), data=st.sampled_from([{}, {"events": False}]))
def test_tiling_without_overlap_or_gap(sketch, strokes, data):
    match = draw(sketch, strokes).match(**data)
    tracking = match.tracking
    for found, sides in ((find_phases(match), ("in", "out")), (find_possessions(match), (None,))):
        for side in sides:
            rows = found.table if side is None else found.table[found.table["side"] == side]
            assert (rows["end_s"] > rows["start_s"]).all()
            count = np.zeros(len(tracking), int)
            for period, a, b in rows[["period", "start_s", "end_s"]].itertuples(index=False):
                here = (tracking.period == period) & (tracking.time_s >= a - 1e-6) & (tracking.time_s < b - 1e-6)
                count += here
            np.testing.assert_array_equal(count, tracking.alive.astype(int))


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(strokes=st.lists(STROKE, max_size=10), data=st.sampled_from([{}, {"events": False}, {"tracking": False}]))
def test_turned_by_180_degrees_it_is_the_same_match(sketch, strokes, data):
    one, two = (find_phases(draw(sketch, strokes, sign).match(**data)).table for sign in (1, -1))
    assert one.equals(two)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(strokes=st.lists(STROKE, max_size=12))
def test_from_events_alone_both_sides_cover_the_same_time(sketch, strokes):
    match = draw(sketch, strokes).match(tracking=False)
    table = find_phases(match).table
    spells = find_possessions(match).table
    assert table["estimated"].all()
    for period, part in table.groupby("period"):
        own = spells[spells["period"] == period]
        for side in ("in", "out"):
            rows = part[part["side"] == side]
            assert (rows["start_s"].to_numpy()[1:] >= rows["end_s"].to_numpy()[:-1] - 1e-9).all()
            total = (rows["end_s"] - rows["start_s"]).sum()
            assert total == pytest.approx((own["end_s"] - own["start_s"]).sum())
