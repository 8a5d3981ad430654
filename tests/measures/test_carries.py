"""Carries from the events and from the tracking alone, by hand geometry."""

import numpy as np
import pytest
from drawing import Drawing

from tactical_kit.errors import MissingDataError
from tactical_kit.match import Match
from tactical_kit.measures.carries import CARRY_COLUMNS, carry_table


@pytest.fixture
def carried():
    """a4 finds a3, who carries from (-30, 0) to (-18, 5), 13 m, in 4 s, then passes to a6 at (-10, 0)."""
    drawn = Drawing(8.0).stands(a6=(-10, 0)).at(0, a3=(-30, 0)).at(1, a3=(-30, 0)).at(5, a3=(-18, 5))
    return drawn.hold("a4", 0, 0.2).play("a4", "a3", 0.2, 1).carry("a3", 1, 5).play("a3", "a6", 5, 6).hold("a6", 6, 8)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("swapped", [False, True])
def test_carry_from_events(carried, turned, swapped):
    table = carry_table(carried.match(turned=turned, swapped=swapped, after_s=2.0))
    assert table.dtypes.astype(str).to_dict() == CARRY_COLUMNS and len(table) == 1
    row = table.iloc[0]
    assert (row.player, row.team, row.time_s, row.end_s, row.estimated) == ("a3", "a", 3.0, 7.0, False)
    np.testing.assert_allclose([row.x, row.y, row.end_x, row.end_y, row.distance_m], [-30, 0, -18, 5, 13])
    assert (row.frame, row.end_frame) == (75, 175)


@pytest.mark.parametrize("turned", [False, True])
def test_carry_from_tracking_alone(carried, turned):
    """The spell on the ball runs from the first frame to the one in which the pass leaves his reach."""
    table = carry_table(carried.match(turned=turned, events=False))
    row = table.iloc[0]
    assert len(table) == 1 and row.estimated and row.player == "a3" and 0.9 <= row.time_s <= 1.0
    assert 5.0 <= row.end_s <= 5.4 and row.distance_m == pytest.approx(13.0, abs=3.0)


def test_events_that_list_no_carry_are_helped_out_by_the_tracking(carried):
    match = carried.match()
    without = match.with_data(events=match.events[match.events["kind"] != "carry"].reset_index(drop=True))
    assert carry_table(without)["estimated"].tolist() == [True]
    assert len(carry_table(without.with_data(tracking=None))) == 0


@pytest.mark.parametrize(("least_m", "number"), [(13.0, 1), (13.01, 0)])
def test_at_least_so_far(carried, least_m, number):
    assert len(carry_table(carried.match(), least_m=least_m)) == number


def test_nothing_to_read_from(carried):
    match = carried.match()
    empty = Match("none", match.home, match.away, match.periods)
    with pytest.raises(
        MissingDataError,
        match=r"^A list of carries needs tracking; this match has nothing yet\. Events list them, too\.$",
    ):
        carry_table(empty)


def test_a_carry_without_an_end_lasts_until_the_next_event(carried):
    """The pass at 5 s ends it; its end is then the place of the ball, (-18, 5)."""
    match = carried.match(turned=True)
    events = match.events.assign(
        **{c: match.events[c].mask(match.events["kind"] == "carry") for c in ("end_s", "end_x", "end_y")}
    )
    row = carry_table(match.with_data(events=events)).iloc[0]
    assert row.end_s == 5.0
    np.testing.assert_allclose([row.end_x, row.end_y, row.distance_m], [-18, 5, 13], atol=1e-4)
    assert carry_table(match.with_data(events=events), longest_s=2.0).iloc[0].end_s == 3.0
    assert len(carry_table(match.with_data(events=events, tracking=None))) == 0  # nobody knows where it ended


def test_a_log_of_shots_leaves_the_carries_to_the_tracking(carried):
    match = carried.event("shot", "a6", 7.5, outcome="saved").match()
    shots = match.events[match.events["kind"] == "shot"].reset_index(drop=True)
    told, alone = carry_table(match.with_data(events=shots)), carry_table(match.with_data(events=None))
    assert len(alone) == 1 and told.equals(alone)


@pytest.mark.parametrize("turned", [False, True])
def test_places_that_the_events_do_not_give_are_the_balls(carried, turned):
    match = carried.match(turned=turned)
    places = {c: np.nan for c in ("x", "y", "end_x", "end_y")}
    row = carry_table(match.with_data(events=match.events.assign(**places))).iloc[0]
    np.testing.assert_allclose([row.x, row.y, row.end_x, row.end_y], [-30, 0, -18, 5], atol=1e-4)
    assert row.distance_m == pytest.approx(13.0, abs=1e-4)
