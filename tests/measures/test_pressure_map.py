"""The pressure map: frames by hand with worked values of the oval, and a plain loop over all frames."""

import numpy as np
import pytest

from tactical_kit.errors import UnknownNameError
from tactical_kit.measures.index import index_match
from tactical_kit.measures.pressure import pressure_map
from tactical_kit.measures.selection import Selection
from tactical_kit.pitch import Pitch

NAMED = Pitch().named_zones()
HALF = "the tracking holds no play of the second half"


@pytest.fixture
def two_places(make_match, make_tracking):
    """6 s at 5 Hz.  H10 has the ball at (0, 0) for 4 s, A4 3 m ahead of him (49.18586 %), then at (30, 0) for 2 s
    with A4 9 m ahead (0 %).  Pressure values: after Andrienko et al. 2017, computed, parameters not verified."""
    place = np.repeat([[0.0, 0.0], [30.0, 0.0]], [20, 10], axis=0)
    press = np.repeat([[3.0, 0.0], [39.0, 0.0]], [20, 10], axis=0)
    return make_match(tracking=make_tracking({"H10": place, "A4": press, "A9": (-40, 0)}, place), events=False)


def test_by_hand(two_places):
    found = pressure_map(index_match(two_places), Selection(team="H"), NAMED, few_seconds=0)
    zones = found.zones.set_index("name")
    assert zones.pressure_pct["middle third, centre"] == pytest.approx(49.18586, abs=1e-3)
    assert zones.seconds["middle third, centre"] == pytest.approx(4.0)
    assert zones.pressure_pct["final third, centre"] == pytest.approx(0, abs=1e-3)
    assert zones.seconds["final third, centre"] == pytest.approx(2.0)
    assert zones["pressure_pct"].isna().sum() == 13
    assert (found.n, found.seconds, found.estimated, found.on_side, found.note) == (30, 6.0, False, True, HALF)
    assert found.mean_pct == pytest.approx(49.18586 * 2 / 3, abs=1e-3)
    assert found.values("seconds").shape == (3, 5)
    assert found.values("seconds")[1, 2] == pytest.approx(4.0)


def test_the_other_side_sees_the_same_place_turned(two_places):
    """A has no phase and no ball; pressed is only H.  With phases out of possession A's map is H's, turned."""
    index = index_match(two_places)
    assert pressure_map(index, Selection(team="A")).n == 0


def test_the_pressure_a_side_puts_on(two_places, make_phases):
    phases = make_phases((1, 0, 2, "A", "high press"), (1, 2, 6, "A", "mid-block"), (1, 0, 6, "H", "build-up"))
    index = index_match(two_places, phases)
    found = pressure_map(index, Selection(team="A", phases="high press"), NAMED)
    assert not found.on_side
    assert found.seconds == pytest.approx(2.0)
    assert found.mean_pct == pytest.approx(49.18586, abs=1e-3)
    late = pressure_map(index, Selection(team="A", phases="mid-block"), NAMED).zones.set_index("name")
    # H10 at (30, 0) in his frame is at (-30, 0) in A's: A's own third.
    assert late.seconds["own third, centre"] == pytest.approx(2.0)
    same = pressure_map(index, Selection(team="H", opponent_phases="mid-block"), NAMED)
    assert same.on_side
    assert same.zones.set_index("name").seconds["final third, centre"] == pytest.approx(2.0)


def test_conditions_on_frames(two_places):
    index = index_match(two_places)
    assert pressure_map(index, Selection(team="H", under_pressure=True)).seconds == pytest.approx(4.0)
    assert pressure_map(index, Selection(team="H", under_pressure=False)).seconds == pytest.approx(2.0)
    assert pressure_map(index, Selection(players="H10", segment=(1, 1, 3))).seconds == pytest.approx(2.0)
    assert pressure_map(index, Selection(players="H9")).n == 0
    assert pressure_map(index, Selection(team="H", zones="final third, centre")).seconds == pytest.approx(2.0)
    assert pressure_map(index, Selection(team="H", area=(-1, -1, 1, 1))).seconds == pytest.approx(4.0)


def test_little_time_has_no_mean(two_places):
    index = index_match(two_places)
    found = pressure_map(index, Selection(team="H"), NAMED, min_seconds=2.0).zones.set_index("name")
    assert found["pressure_pct"].notna().sum() == 2  # exactly 2 s is enough
    found = pressure_map(index, Selection(team="H"), NAMED, min_seconds=2.1).zones.set_index("name")
    assert found["pressure_pct"].notna().sum() == 1
    assert found.seconds["final third, centre"] == pytest.approx(2.0)


def test_equals_a_plain_loop(make_match, make_tracking):
    rng = np.random.default_rng(4)
    frames = 400
    places = {f"{t}{i}": np.cumsum(rng.normal(0, 1, (frames, 2)), axis=0) for t in "HA" for i in (4, 6, 10)}
    ball = places["H6"].copy()
    ball[200:] = places["A10"][200:]
    tracking = make_tracking(places, ball)
    index = index_match(make_match(tracking=tracking, events=False))
    found = pressure_map(index, Selection(), NAMED)
    total, count = np.zeros(15), np.zeros(15)
    f = index.frames
    for i in range(len(f)):
        if f.holder[i] < 0:
            continue
        frame, who = f.frame[i], f.holder[i]
        side = tracking.team_index[who]
        sign = 1 if side == 0 else -1
        me = tracking.xy[frame, who].astype(float)
        value = 0.0
        for column in np.flatnonzero(tracking.team_index != side):
            away = tracking.xy[frame, column].astype(float) - me
            distance = np.hypot(*away)
            goal = np.array([sign * 52.5, 0]) - me
            cosine = away @ goal / (distance * np.hypot(*goal))
            z = (1 + cosine) / 2
            value += 100 * max(1 - distance / (3 + 6 * (z**3 + 0.3 * z) / 1.3), 0) ** 1.75
        zone = int(NAMED.zone_of(*(sign * tracking.ball[frame, :2].astype(float))))
        total[zone] += value
        count[zone] += 1
    assert found.zones["seconds"].tolist() == pytest.approx((count * 0.2).tolist())
    assert np.nan_to_num(found.zones["pressure_pct"]).tolist() == pytest.approx(
        np.divide(total, count, out=np.zeros(15), where=count > 0).tolist(), abs=1e-3
    )
    assert count.sum() > 100


def events(pass_row):
    foul = dict(kind="foul", period=1, time_s=5.0, team="A", player="A4", x=20, y=12)
    return [
        pass_row(1, "H6", "H10", (20, 12), (30, 0)),
        pass_row(2, "H6", "H10", (20, 12), (30, 0)),
        pass_row(3, "H6", "A4", (-20, 0), (30, 0), success=False),
        foul,
        dict(kind="take-on", period=1, time_s=6.0, team="H", player="H6", x=20, y=12, success=True, outcome="won"),
        pass_row(7, "A4", "A5", (20, 12), (30, 0)),
    ]


def test_from_events_alone(make_match, pass_row):
    """The opponents' actions stand where they pressed in the frame of the side with the ball; marked as estimated."""
    found = pressure_map(index_match(make_match(events(pass_row))), Selection(team="H"), NAMED)
    zones = found.zones.set_index("name")
    place = zones.loc["final third, left half-space"]
    assert place[["passes", "defensive_actions", "passes_per_action"]].tolist() == [2, 2, 1.0]
    assert zones.loc["own third, centre", ["passes", "defensive_actions"]].tolist() == [1, 0]
    assert np.isnan(zones.loc["own third, centre", "passes_per_action"])
    assert found.estimated
    assert zones["seconds"].isna().all()
    assert zones["pressure_pct"].isna().all()
    assert found.n == 5
    assert found.note == "no tracking: passes and defensive actions from events, the coarser thing"


def test_from_events_the_pressing_sides_view(make_match, pass_row, make_phases):
    phases = make_phases((1, 0, 10, "A", "high press"), (1, 0, 10, "H", "build-up"))
    index = index_match(make_match(events(pass_row)), phases)
    zones = pressure_map(index, Selection(team="A", phases="high press"), NAMED).zones.set_index("name")
    assert zones.loc["own third, right half-space", ["passes", "defensive_actions"]].tolist() == [2, 2]


def test_no_instance(two_places, make_match, pass_row):
    full = pressure_map(index_match(two_places), Selection(team="H"))
    assert full.grid.shape == (12, 8)
    for match, note in [
        (two_places, HALF + "; nobody is on the ball within the selection"),
        (make_match(events(pass_row)),
         "no tracking: passes and defensive actions from events, the coarser thing; no action fits the selection"),
        (make_match(events=False),
         "no tracking: passes and defensive actions from events, the coarser thing; no action fits the selection"),
    ]:  # fmt: skip
        empty = pressure_map(index_match(match), Selection(team="H", segment=(2, 0, 1)))
        assert (empty.n, empty.note) == (0, note)
        assert empty.zones.dtypes.to_dict() == full.zones.dtypes.to_dict()
        assert len(empty.zones) == 96
        assert np.isnan(empty.mean_pct)


def test_few_seconds_are_called_few(two_places):
    found = pressure_map(index_match(two_places), Selection(team="H", segment=(1, 0, 60)))
    assert found.note == "only 6 s on the ball: the map is rough"


def test_unknown_phase(two_places):
    with pytest.raises(UnknownNameError) as caught:
        pressure_map(index_match(two_places), Selection(phases="pressing"))
    assert str(caught.value).startswith("phase is 'pressing'; expected one of 'build-up', 'progression', ")
