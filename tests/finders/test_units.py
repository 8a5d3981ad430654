"""The line a player usually belongs to.  References: plain means over the frames, and sums by hand."""

import numpy as np
import pytest

from tactical_kit.finders.context import index_of
from tactical_kit.finders.units import UsualDepths, opponents_lines, usual_depths
from tactical_kit.measures.sides import sides_at


def depths(window_s=10.0, least=2):
    """Two players: at seconds 0, 10, 20, 30 the first stands 4, 4, 8, 8 m ahead of the middle; the other as far behind it,
    and he is missing in the last; a second period has one instant with 1 m and -1 m."""
    ahead = np.array([[4, -4], [4, -4], [8, -8], [8, np.nan], [1, -1]], float)
    there = np.isfinite(ahead)
    none = np.zeros((1, 2))
    key = np.array([100_000, 100_010, 100_020, 100_030, 200_005], float)
    total = np.concatenate([none, np.cumsum(np.nan_to_num(ahead), axis=0)])
    return UsualDepths(key, total, np.concatenate([none, np.cumsum(there, axis=0)]), window_s, least)


@pytest.mark.parametrize(
    ("period", "time_s", "expected"),
    [
        (1, 5.0, (4, -4)),  # 0 and 10
        (1, 10.0, (16 / 3, -16 / 3)),  # 0, 10 and 20: the limits count
        (1, 15.0, (6, -6)),
        (1, 25.0, (8, -16 / 3)),  # the second was there once in the window, less than twice: his whole period
        (1, 60.0, (6, -16 / 3)),  # nothing in the window: the whole period
        (2, 5.0, (1, -1)),  # never the other period's
        (3, 5.0, (np.nan, np.nan)),
    ],
)
def test_averages_around_an_instant_by_hand(period, time_s, expected):
    np.testing.assert_allclose(depths().at([period], [time_s])[0], expected)


def test_several_instants_are_the_single_ones():
    period, time_s = np.array([1, 1, 2, 1]), np.array([3.0, 25.0, 9.0, 31.0])
    each = [depths().at([p], [t])[0] for p, t in zip(period, time_s)]
    np.testing.assert_array_equal(depths().at(period, time_s), each)


def test_against_plain_means_over_the_demonstration_match(demo):
    team = demo.home.team_id
    index = index_of(demo)
    frames, codes = index.frames, [index.phase_names.index(p) for p in ("mid-block", "low block")]
    for period, time_s in ((1, 900.0), (2, 1500.0)):
        near = (frames.period == period) & (np.abs(frames.time_s - time_s) <= 300) & (frames.team == 1)
        near &= np.isin(frames.phase[:, 0], codes)
        x = sides_at(demo, frames.frame[near], demo.away.team_id).other_outfield[..., 0]
        relative = x - np.nanmean(x, axis=1, keepdims=True)
        seen = np.isfinite(relative).sum(axis=0) >= round(20 / frames.frame_s)
        got = usual_depths(demo, team).at([period], [time_s])[0]
        assert seen.sum() >= 10
        np.testing.assert_allclose(got[seen], np.nanmean(relative[:, seen], axis=0), atol=1e-6)


def test_the_back_line_of_the_demonstration_match_is_made_of_defenders(demo):
    """The invented sides play with back fours: in the block the back line is RB, RCB, LCB, LB, whoever steps out."""
    index = index_of(demo)
    frames = index.frames
    for side, team in enumerate(t.team_id for t in demo.teams):
        mine = np.flatnonzero((frames.team == side) & (frames.period == 1))[::50]
        sides = sides_at(demo, frames.frame[mine], team)
        lines = opponents_lines(demo, sides, frames.period[mine], frames.time_s[mine], team)
        trades = np.array([demo.players[p].position for p in np.array(sides.other_ids)[~sides.other_keeper]])
        back = lines.line == 0
        defenders = np.isin(trades, ["RB", "RCB", "CB", "LCB", "LB"])
        assert (back[:, defenders].sum() / back.sum()) > 0.95


def test_without_any_block_all_that_the_opponents_play_counts(drawing):
    """In eight drawn seconds there is no mid-block of twenty: everybody is where he is drawn, middle at x = 6.4."""
    match = drawing(8.0).hold("a3", 0, 8).match()
    expected = np.array([18, 19, 19, 18, 3, 3, 3, 3, -11, -11]) - 6.4
    np.testing.assert_allclose(usual_depths(match, "b").at([1], [4.0])[0], expected, atol=1e-5)


def test_stills_are_sorted_by_where_they_stand(drawing):
    match = drawing(8.0).hold("a3", 0, 8).match()
    still = match.with_data(events=None, tracking=None, stills=(match.snapshot(1, 4.0),))
    sides = sides_at(still, [0], "a")
    lines = opponents_lines(still, sides, [1], [4.0], "a")
    assert lines.line[0].tolist() == [0, 0, 0, 0, 1, 1, 1, 1, 2, 2] and lines.x[0].tolist() == [18.5, 3.0, -11.0]
