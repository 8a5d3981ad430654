"""Progression: rows counted by hand, all against a plain loop, entries against shapely."""

from collections import Counter, defaultdict

import numpy as np
import pytest
from shapely.geometry import LineString, Point, box

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.measures.index import index_match
from tactical_kit.measures.progression import progression_zones
from tactical_kit.measures.selection import Selection
from tactical_kit.pitch import Pitch

NAMES = Pitch().named_zones().names()


def carry(time_s, player, start, end, period=1, **more):
    return dict(kind="carry", period=period, time_s=time_s, team=player[0], player=player, x=start[0], y=start[1],
                end_x=end[0], end_y=end[1]) | more  # fmt: skip


@pytest.fixture
def by_hand(make_match, pass_row):
    rows = [
        pass_row(1, "H6", "H10", (-40, 0), (-20, 0)),  # own third, centre: +20 by pass
        pass_row(2, "H6", "H10", (-40, 0), (-8, 0)),  # exactly 32 m: a long ball, +32
        pass_row(3, "H6", "H10", (-40, 5), (-10, 15)),  # 31.6 m long: a pass, +30
        carry(4, "H6", (-40, -5), (-35, -5)),  # +5 by carry
        pass_row(5, "H6", "H10", (-40, 0), (-45, 0)),  # back: gains nothing, takes nothing away
        pass_row(6, "H6", "H10", (-40, 0), (-40, 20)),  # square: not further up
        pass_row(7, "H6", "A10", (-40, 0), (0, 0), success=False),
        carry(8, "H6", (-40, 0), (-30, 0), success=False),
        pass_row(9, "H6", "H10", (-40, 0), (np.nan, np.nan)),
        pass_row(10, "H6", "H10", (0, 0), (20, 12)),  # middle third, centre: +20 into the final third
    ]
    return index_match(make_match(rows))


def test_by_hand(by_hand):
    found = progression_zones(by_hand, Selection(team="H"), few=0)
    zones = found.zones.set_index("name")
    own = zones.loc["own third, centre"]
    assert own[["gained_m", "gained_pass_m", "gained_carry_m", "gained_long_m"]].tolist() == [87, 50, 5, 32]
    assert own[["actions", "passes", "carries", "long_balls"]].tolist() == [4, 2, 1, 1]
    assert own["mean_gain_m"] == 87 / 4
    assert (own["x"], own["y"]) == (-35.0, 0.0)
    middle = zones.loc["middle third, centre"]
    assert middle[["gained_m", "actions"]].tolist() == [20, 1]
    assert zones["actions"].sum() == found.n == 5
    assert np.isnan(zones.loc["final third, centre", "mean_gain_m"])
    assert found.note == ""
    flows = found.flows
    places = [flows[c].map(NAMES.__getitem__) for c in ("from_zone", "to_zone")]
    pairs = list(zip(*places, flows["count"], flows["mean_gain_m"], strict=True))
    assert pairs == [
        ("own third, centre", "middle third, centre", 1, 32.0),
        ("own third, centre", "middle third, left half-space", 1, 30.0),
        ("middle third, centre", "final third, left half-space", 1, 20.0),
    ]
    # The line from (0, 0) to (20, 12) crosses x = 17.5 at y = 10.5: left half-space.
    assert found.entries.to_numpy().tolist() == [["final third", "left half-space", "pass", 1]]


@pytest.mark.parametrize(("long_ball_m", "long_balls"), [(31.0, 2), (31.7, 1), (32.0, 1), (32.1, 0)])
def test_what_is_long(by_hand, long_ball_m, long_balls):
    found = progression_zones(by_hand, Selection(team="H"), long_ball_m=long_ball_m)
    assert found.zones["long_balls"].sum() == long_balls
    assert found.params == {"long_ball_m": long_ball_m, "min_gain_m": 0.0}


@pytest.mark.parametrize(("min_gain_m", "n"), [(4.9, 5), (5.0, 4), (20.0, 2), (99.0, 0)])
def test_more_than_the_least_gain(by_hand, min_gain_m, n):
    assert progression_zones(by_hand, Selection(team="H"), min_gain_m=min_gain_m).n == n


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        ((17.49, 0), (17.5, 0), [["final third", "centre"]]),  # ends on the limit: in
        ((17.5, 0), (30, 0), []),  # was in already
        ((10, 30), (17.4, 30), []),
        ((10, -30), (35.9, -30), [["final third", "right wing"]]),
        ((30, 0), (36, 20.16), [["box", "centre"]]),  # the lines belong to the area
        ((30, 0), (36, 20.17), []),
        ((30, 0), (35.99, 0), []),
        ((36, 0), (45, 0), []),  # was in the box already
        ((51, 25), (45, 10), [["box", "left wing"]]),  # pulled back into the box: an entry all the same
        ((0, -12), (40, 0), [["final third", "centre"], ["box", "right half-space"]]),  # crosses 17.5 at y = -6.75
    ],
)
def test_entries_on_the_edges(make_match, pass_row, start, end, expected):
    found = progression_zones(index_match(make_match([pass_row(1, "H6", "H10", start, end)])), Selection(team="H"))
    assert found.entries[["entry", "corridor"]].to_numpy().tolist() == expected


@pytest.fixture(scope="module")
def many_rows():
    rng = np.random.default_rng(12)
    rows = []
    for i in range(500):
        side = "HA"[rng.integers(2)]
        start, end = rng.uniform([-52, -33], [52, 33]), rng.uniform([-52, -33], [52, 33])
        if rng.random() < 0.4:
            end = start + rng.normal(0, 5, 2)
        rows.append(dict(
            kind=str(rng.choice(["pass", "carry"])), period=1 + i % 2, time_s=float(i), team=side, player=f"{side}6",
            receiver=f"{side}10", success=bool(rng.random() < 0.8), x=start[0], y=start[1], end_x=end[0], end_y=end[1],
        ))  # fmt: skip
    return rows


@pytest.mark.parametrize("team", ["H", "A", None])
def test_equals_a_plain_loop_and_shapely(make_match, many_rows, team):
    """Entries by shapely geometry: a box polygon with its border, the crossing as an intersection of lines."""
    pitch = Pitch()
    match = make_match(many_rows)
    found = progression_zones(index_match(match), Selection(team=team), long_ball_m=30)
    area, third = box(36.0, -20.16, 52.5, 20.16), 17.5
    edges = [-34, -20.16, -9.16, 9.16, 20.16, 34]
    corridors = ("right wing", "right half-space", "centre", "left half-space", "left wing")

    def corridor(y):
        return corridors[max(i for i in range(5) if edges[i] <= y)]

    def zone(x, y):
        if abs(x) > 55.5 or abs(y) > 37:  # more than 3 m off the pitch
            return -1
        return int(grid.zone_of(min(max(x, -52.5), 52.5), min(max(y, -34), 34)))

    gained, flows, entries = defaultdict(float), Counter(), Counter()
    grid = pitch.named_zones()
    for row in match.attacking_events.itertuples():
        if (team and row.team != team) or not row.success:
            continue
        start, end = Point(row.x, row.y), Point(row.end_x, row.end_y)
        by = "carry" if row.kind == "carry" else "long ball" if start.distance(end) >= 30 else "pass"
        if row.end_x > row.x:
            start_in, to = zone(row.x, row.y), zone(row.end_x, row.end_y)
            gained[start_in, by] += row.end_x - row.x
            if to not in (start_in, -1):
                flows[start_in, to] += 1
        if row.x < third <= row.end_x:
            crossing = LineString([start, end]).intersection(LineString([(third, -99), (third, 99)]))
            entries["final third", corridor(crossing.y), by] += 1
        if not area.covers(start) and area.covers(end):
            entries["box", corridor(row.y), by] += 1
    for column, by in (("gained_pass_m", "pass"), ("gained_carry_m", "carry"), ("gained_long_m", "long ball")):
        assert found.zones[column].tolist() == pytest.approx([gained[z, by] for z in range(15)])
    assert dict(zip(zip(found.flows["from_zone"], found.flows["to_zone"], strict=True), found.flows["count"],
                    strict=True)) == flows  # fmt: skip
    assert found.flows["count"].is_monotonic_decreasing
    assert {(e, c, b): n for e, c, b, n in found.entries.itertuples(index=False)} == entries
    assert found.n == found.zones["actions"].sum()


@pytest.mark.parametrize("period", [1, 2])
@pytest.mark.parametrize("team", ["H", "A"])
def test_both_directions_of_attack(make_match, pass_row, team, period):
    rows = [pass_row(1, f"{team}6", f"{team}10", (0, 12), (20, 12), period=period)]
    found = progression_zones(index_match(make_match(rows, attacking=True)), Selection(team=team))
    assert found.zones.set_index("name")["gained_m"]["middle third, left half-space"] == 20
    assert found.entries.to_numpy().tolist() == [["final third", "left half-space", "pass", 1]]


def test_any_grid(by_hand):
    grid = Pitch().grid(6, 3)
    found = progression_zones(by_hand, Selection(team="H"), grid)
    assert (len(found.zones), found.grid) == (18, grid)
    assert found.zones["gained_m"].sum() == 107


def test_no_instance(by_hand, make_match, make_tracking):
    full = progression_zones(by_hand, Selection(team="H"))
    tracking = make_tracking({"H10": (0, 0)}, np.zeros((5, 2)))
    for index, note in [
        (by_hand, "no pass or carry that gains ground fits the selection"),
        (index_match(make_match([])), "no pass or carry that gains ground fits the selection"),
        (index_match(make_match(tracking=tracking, events=False)),
         "progression needs events; no pass or carry that gains ground fits the selection"),
    ]:  # fmt: skip
        empty = progression_zones(index, Selection(team="H", segment=(2, 0, 1)))
        assert (empty.n, empty.note, len(empty.zones)) == (0, note, 15)
        assert (empty.zones["gained_m"] == 0).all()
        assert (len(empty.flows), len(empty.entries)) == (0, 0)
        for name in ("zones", "flows", "entries"):
            assert getattr(empty, name).dtypes.to_dict() == getattr(full, name).dtypes.to_dict()


def test_few_are_called_few(by_hand):
    assert progression_zones(by_hand, Selection(team="H")).note == "only 5 actions: the map is rough"


def test_wrong_wishes(by_hand):
    with pytest.raises(TacticalKitError) as caught:
        progression_zones(by_hand, long_ball_m=-1)
    assert str(caught.value) == "long_ball_m is -1 and min_gain_m 0.0; expected metres, at least 0."
    with pytest.raises(UnknownNameError) as caught:
        progression_zones(by_hand, Selection(players="H99"))
    assert str(caught.value) == "player 'H99' is in neither squad. Did you mean 'H9'?"


def test_a_throw_in_from_behind_the_line_counts(make_match, pass_row):
    """A place a hair or a step over the line belongs to the zone at the border (common practice, no source)."""
    rows = [
        pass_row(1, "H5", "H10", (-20, 34.0000000008), (-10, 20), set_play="throw-in"),
        pass_row(2, "H5", "H10", (30, 34.4), (40, 10), set_play="throw-in"),  # into the box, from the left wing
        pass_row(3, "H5", "H10", (-20, 37.5), (-10, 20)),  # nowhere near the pitch: no zone
    ]
    found = progression_zones(index_match(make_match(rows)))
    zones = found.zones[found.zones["actions"] > 0]
    assert found.n == 2
    assert zones[["name", "actions", "gained_m"]].to_numpy().tolist() == [
        ["own third, left wing", 1, 10.0],
        ["final third, left wing", 1, 10.0],
    ]
    assert found.entries.to_numpy().tolist() == [["box", "left wing", "pass", 1]]


def test_what_has_no_side_gains_no_ground(make_match, pass_row):
    """Its place is in no attacking frame, so there is no forward."""
    rows = [pass_row(1, "H6", "H10", (0, 0), (10, 0)), pass_row(2, "H6", "H10", (0, 0), (10, 0), team="")]
    assert progression_zones(index_match(make_match(rows))).n == 1
