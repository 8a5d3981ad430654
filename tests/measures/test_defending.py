"""Defensive actions and passes allowed for each.  Worked values: after C. Trainor 2014, read at second hand."""

import math

import pytest

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.measures.defending import (
    DEFENSIVE_ACTIONS,
    defensive_actions,
    defensive_zones,
    passes_per_defensive_action,
)
from tactical_kit.measures.index import index_match
from tactical_kit.measures.selection import Selection


def act(time_s, kind, player, x, y=0.0, period=1, **more):
    return dict(kind=kind, period=period, time_s=time_s, team=player[0], player=player, x=x, y=y) | more


def theirs(time_s, x, period=1, success=True):
    """A pass of the away side that starts at x in the *home* side's attacking frame."""
    return act(time_s, "pass", "A6", -x, period=period, receiver="A7", success=success)


@pytest.mark.parametrize("period", [1, 2])
def test_worked_value(make_match, period):
    """300 passes / (9 tackles + 3 challenges lost + 7 interceptions + 6 fouls) = 12.0 (computed)."""
    rows = [theirs(i, 0.0, period) for i in range(300)]
    rows += [act(400 + i, "tackle", "H6", 0, outcome="won", period=period) for i in range(9)]
    rows += [act(420 + i, "tackle", "H6", 0, outcome="lost", period=period) for i in range(3)]
    rows += [act(440 + i, "interception", "H6", 0, period=period) for i in range(7)]
    rows += [act(460 + i, "foul", "H6", 0, period=period) for i in range(6)]
    found = passes_per_defensive_action(index_match(make_match(rows, attacking=True)), Selection(team="H"))
    assert found.value == 12.0
    assert (found.passes, found.actions, found.n, found.team) == (300, 25, 25, "H")
    assert found.by_action == {"tackle": 9, "challenge lost": 3, "interception": 7, "foul": 6}
    assert found.note == ""


@pytest.mark.parametrize(("x", "inside"), [(-10.5, 1), (-10.6, 0), (52.5, 1)])
def test_the_zone_and_its_limit(make_match, x, inside):
    """Their own 60 % of a 105 m pitch: x >= -52.5 + .4 x 105 = -10.5, limit included (computed)."""
    index = index_match(make_match([theirs(1, x), act(2, "interception", "H6", x)], attacking=True))
    found = passes_per_defensive_action(index, Selection(team="H"))
    assert found.from_x_m == pytest.approx(-10.5)
    assert (found.passes, found.actions) == (inside, inside)


@pytest.mark.parametrize(("share", "limit"), [(0.5, 0.0), (2 / 3, -17.5), (1.0, -52.5)])
def test_other_zones(make_match, share, limit):
    rows = [act(1, "interception", "H6", limit), act(2, "interception", "H6", limit - 0.1)]
    found = passes_per_defensive_action(index_match(make_match(rows)), Selection(team="H"), zone_share=share)
    assert found.from_x_m == pytest.approx(limit)
    assert found.actions == 1


def test_no_action_is_undefined(make_match):
    found = passes_per_defensive_action(index_match(make_match([theirs(1, 0.0)], attacking=True)), Selection(team="H"))
    assert math.isnan(found.value)
    assert (found.passes, found.note) == (1, "no defensive action in the zone: undefined")


def test_variants(make_match):
    rows = [theirs(1, 0.0), theirs(2, 0.0, success=False), act(3, "interception", "H6", 0), act(4, "block", "H6", 0)]
    index = index_match(make_match(rows, attacking=True))
    side = Selection(team="H")
    assert passes_per_defensive_action(index, side).value == 1.0
    assert passes_per_defensive_action(index, side, passes="all").value == 2.0
    both = passes_per_defensive_action(index, side, actions=("interception", "block"))
    assert (both.value, both.params["actions"]) == (0.5, ("interception", "block"))
    assert both.note == "only 2 defensive actions: rough"


def test_a_challenge_lost_is_counted_once(make_match):
    """A take-on won by the opponent counts where he beat the man, unless a lost tackle tells of it already."""
    rows = [
        act(1, "take-on", "A9", -20, 8, success=True, outcome="won", event_id="t1"),  # beaten, no tackle told
        act(2, "take-on", "A9", -20, success=True, outcome="won", event_id="t2"),
        act(2.1, "tackle", "H6", 20, outcome="lost", related="t2", event_id="k2"),
        act(3, "take-on", "A9", -20, success=True, outcome="won", event_id="t3", related="k3"),
        act(3.1, "tackle", "H6", 20, success=False, event_id="k3"),
        act(4, "take-on", "A9", -20, success=False, outcome="lost", event_id="t4"),  # he did not get past
        act(4.1, "tackle", "H6", 20, success=True, outcome="won", related="t4", event_id="k4"),
    ]
    index = index_match(make_match(rows, attacking=True))
    table = defensive_actions(index, Selection(team="H"))
    assert table["event_id"].tolist() == ["t1", "k2", "k3", "k4"]
    assert table["action"].tolist() == ["challenge lost", "challenge lost", "challenge lost", "tackle"]
    assert table["team"].tolist() == ["H"] * 4
    assert table["player"].tolist() == ["", "H6", "H6", "H6"]
    assert table[["x", "y"]].to_numpy().tolist()[0] == [20, -8]  # turned into the defending side's frame
    assert defensive_actions(index, Selection(team="A"))["event_id"].tolist() == []
    assert defensive_actions(index, Selection(team="A"), side="opponent").equals(table)
    assert defensive_actions(index, Selection(team="H", under_pressure=True)).equals(table)
    assert defensive_actions(index, Selection(team="H", players="H6"))["event_id"].tolist() == ["k2", "k3", "k4"]
    assert sorted(defensive_actions(index)["event_id"]) == ["k2", "k3", "k4", "t1"]


def test_only_in_the_phase_of_the_side_that_defends(make_match, make_phases):
    """Passes against H's high press only: the interception that ends it counts, the pass after it does not."""
    phases = make_phases((1, 10, 20, "H", "high press"), (1, 10, 20, "A", "build-up"),
                         (1, 20, 30, "H", "attacking transition"), (1, 20, 30, "A", "counter-press"))  # fmt: skip
    rows = [
        theirs(9, 20), theirs(10, 20), theirs(15, 20), act(20, "interception", "H6", 20), theirs(20, 20),
        act(25, "tackle", "A6", 0), act(26, "interception", "H6", 20),
    ]  # fmt: skip
    index = index_match(make_match(rows, attacking=True), phases)
    found = passes_per_defensive_action(index, Selection(team="H", phases="high press"))
    assert (found.passes, found.actions, found.value) == (2, 1, 2.0)
    against = passes_per_defensive_action(index, Selection(team="H", opponent_phases="build-up"))
    assert (against.passes, against.actions) == (2, 1)


def test_zones(make_match):
    rows = [act(1, "tackle", "H6", 30, 0, outcome="won"), act(2, "clearance", "H4", -40, 0), act(3, "foul", "H4", -40)]
    found = defensive_zones(index_match(make_match(rows)), Selection(team="H"))
    zones = found.zones.set_index("name")
    assert zones.loc["own third, centre", ["actions", "clearance", "foul", "tackle"]].tolist() == [2, 1, 1, 0]
    assert zones.loc["final third, centre", ["actions", "tackle"]].tolist() == [1, 1]
    assert (found.n, zones["actions"].sum(), found.note) == (3, 3, "")
    assert set(DEFENSIVE_ACTIONS) <= set(zones.columns)


def test_no_instance(make_match):
    full = defensive_actions(index_match(make_match([act(1, "foul", "H6", 0)])), Selection(team="H"))
    for index in (index_match(make_match([])), index_match(make_match(events=False))):
        empty = defensive_actions(index, Selection(team="H"))
        assert (len(empty), empty.dtypes.to_dict()) == (0, full.dtypes.to_dict())
        assert len(defensive_actions(index, actions=())) == 0
        assert defensive_zones(index).n == 0
        assert math.isnan(passes_per_defensive_action(index).value)
    note = passes_per_defensive_action(index).note
    assert note == (
        "no side was chosen: Harbour Town defends; passes per defensive action need events; "
        "no defensive action in the zone: undefined"
    )


def test_wrong_wishes(make_match):
    index = index_match(make_match([]))
    with pytest.raises(UnknownNameError) as caught:
        defensive_actions(index, actions=("tackles",))
    assert str(caught.value) == (
        "defensive action is 'tackles'; expected one of 'tackle', 'challenge lost', 'interception', 'foul', 'block', "
        "'clearance', 'recovery', 'duel'. Did you mean 'tackle'?"
    )
    with pytest.raises(UnknownNameError) as caught:
        passes_per_defensive_action(index, passes="complete")
    assert str(caught.value) == ("passes is 'complete'; expected one of 'completed', 'all'. Did you mean 'completed'?")
    with pytest.raises(TacticalKitError) as caught:
        passes_per_defensive_action(index, zone_share=60)
    assert str(caught.value) == "zone_share is 60; expected a part of the pitch, above 0 and at most 1."
