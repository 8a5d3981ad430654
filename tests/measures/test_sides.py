"""Both sides at many instants, turned for one of them."""

import re

import numpy as np
import pytest

from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.match import Match, Period, Player, Snapshot, Team, Tracking
from tactical_kit.measures.sides import keepers_of, sides_at, sides_of_snapshot


def a_match(home_attacks=1, positions=("GK", "ST"), tracking=True, **changes):
    """Two a side: keeper and striker; the home keeper at x = -50, the away one at x = 50 (home attacking +x)."""
    sides = [
        Team(t, t.upper(), "", tuple(Player(f"{t}{i}", f"{t}{i}", t, i, p) for i, p in enumerate(positions)))
        for t in "ab"
    ]
    xy = np.array([[-50, 1], [10, 5], [50, -2], [20, -8]], np.float32) * home_attacks
    frames = np.repeat(xy[None], 3, axis=0)
    frames[2, 1] = np.nan
    track = Tracking(
        25.0, np.ones(3, np.int8), np.arange(3) / 25, ("a0", "a1", "b0", "b1"), np.array([0, 0, 1, 1], np.int8), frames,
        np.array([[11, 5, 0]] * 3, np.float32) * [home_attacks, home_attacks, 1], np.ones(3, bool),
    )  # fmt: skip
    return Match("m", *sides, (Period(1, 60.0, home_attacks),), tracking=track if tracking else None, **changes)


@pytest.mark.parametrize("home_attacks", [1, -1])
def test_places_are_turned_for_the_side_asked_for(home_attacks):
    match = a_match(home_attacks)
    home, away = sides_at(match, [0, 1], "a"), sides_at(match, [0], "b")
    np.testing.assert_allclose(home.own[0], [[-50, 1], [10, 5]])
    np.testing.assert_allclose(home.other[1], [[50, -2], [20, -8]])
    np.testing.assert_allclose(away.own[0], [[-50, 2], [-20, 8]])
    np.testing.assert_allclose(home.ball[0], [11, 5])
    np.testing.assert_allclose(away.ball[0], [-11, -5])
    assert len(home) == 2 and home.own_ids == ("a0", "a1") and away.other_ids == ("a0", "a1")
    np.testing.assert_allclose(home.own_outfield[:, 0], [[10, 5], [10, 5]])
    np.testing.assert_allclose(home.other_outfield[0], [[20, -8]])


def test_who_is_not_there_and_instants_without_data_are_nan():
    sides = sides_at(a_match(), [2, -1], "a")
    assert np.isnan(sides.own[0, 1]).all() and np.isfinite(sides.own[0, 0]).all()
    assert np.isnan(sides.own[1]).all() and np.isnan(sides.other[1]).all() and np.isnan(sides.ball[1]).all()
    np.testing.assert_allclose(sides.own_place(["a0", "nobody"]), [[-50, 1], [np.nan, np.nan]])
    assert sides.own_index(["a1", "b1", ""]).tolist() == [1, -1, -1]
    assert sides.other_index(["b1"]).tolist() == [1]


def test_velocities_only_when_asked_for():
    match = a_match()
    assert np.isnan(sides_at(match, [0], "a").own_velocity).all()
    np.testing.assert_allclose(sides_at(match, [0], "a", velocities=True).other_velocity, 0, atol=1e-5)


def test_keepers_by_position_or_by_depth():
    for positions in (("GK", "ST"), ("", "")):
        match = a_match(positions=positions)
        assert keepers_of(match, match.tracking).tolist() == [True, False, True, False]


def test_no_places_are_refused():
    with pytest.raises(
        MissingDataError,
        match=r"^The place of players needs tracking; this match has nothing yet\. Stills give them, too\.$",
    ):
        sides_at(a_match(tracking=False), [0], "a")


def still(sign=1, **changes):
    given = dict(
        period=1, time_s=30.0, players=("a0", "a1", "b1"), team_index=np.array([0, 0, 1], np.int8),
        xy=np.array([[-40.0, 0], [0, 3], [5, 3]]) * sign, velocity=np.zeros((3, 2)), ball=np.array([1.0, 3, 0]) * [sign, sign, 1],
        ball_velocity=np.zeros(3), attack_signs=(sign, -sign),
    )  # fmt: skip
    return Snapshot(**(given | changes))


@pytest.mark.parametrize("sign", [1, -1])
def test_stills_do_for_tracking(sign):
    """A still digitised in either direction is the same instant."""
    match = a_match(tracking=False, stills=(still(sign, time_s=31.0), still(sign)))
    assert match.level == "stills" and match.instants.time_s.tolist() == [30.0, 31.0]
    sides = sides_at(match, [0, 1], "a")
    np.testing.assert_allclose(sides.own[0], [[-40, 0], [0, 3]])
    np.testing.assert_allclose(sides.other[1], [[5, 3]])
    np.testing.assert_allclose(sides.ball, [[1, 3], [1, 3]])
    one = sides_of_snapshot(match, still(sign), "b")
    np.testing.assert_allclose(one.own[0], [[-5, -3]])
    assert one.other_keeper.tolist() == [True, False] and one.own_ids == ("b1",)


def test_the_tracking_goes_before_stills():
    match = a_match(stills=(still(),))
    assert match.instants is match.tracking
    assert a_match(tracking=False).instants is None


def test_stills_that_do_not_fit_are_refused():
    message = (
        "Match 'm' does not fit together: a still names players of neither squad: zz; a still is of period 2, which the "
        "match does not list; two stills are of the same instant."
    )
    strange = still(players=("a0", "a1", "zz"), period=2)
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        a_match(tracking=False, stills=(still(), still(), strange))


def test_keepers_of_stills_by_depth_over_all_of_them():
    """Without positions: at the first still the striker of side a has come back behind its keeper."""
    match = a_match(positions=("", ""), tracking=False)
    places = [[(-40, 0), (-50, 5)], [(-50, 0), (20, 5)], [(-50, 0), (10, 5)]]
    stills = tuple(
        Snapshot(
            1, 10.0 * i, ("a0", "a1", "b0", "b1"), np.array([0, 0, 1, 1], np.int8),
            np.array([*own, (50, 0), (20, 0)], float), np.zeros((4, 2)), np.zeros(3), np.zeros(3), (1, -1),
            origin="still",
        )
        for i, own in enumerate(places)
    )  # fmt: skip
    match = match.with_data(stills=stills)
    assert keepers_of(match, match.instants).tolist() == [True, False, True, False]
    # A single one of them is asked with the keepers of the match.
    alone = sides_of_snapshot(match, stills[0], "a")
    assert alone.own_keeper.tolist() == [True, False] and alone.other_keeper.tolist() == [True, False]
