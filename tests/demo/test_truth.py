"""The truth tables are whole and hang together (design of the project, no outside source)."""

import numpy as np
import pandas as pd
import pytest

from tactical_kit.demo import demo_match, demo_match_path, read_truth, simulate, write_demo
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.sources import check_files, read_match

IN = {"build-up", "progression", "final third", "attacking transition", "set play"}
OUT = {"high press", "mid-block", "low block", "defensive transition", "counter-press", "set play"}
OFTEN = (
    "switch",
    "third man",
    "one-two",
    "wide trap",
    "press",
    "counter-press",
    "centre-back carry",
    "between-the-lines reception",
    "long ball",
    "build-up",
    "rest defence",
    "set play",
    "cross",
    "run in behind",
    "counter-attack",
)


def test_every_live_frame_has_an_owner_and_both_phases(made):
    truth, alive = made.truth, made.match.tracking.alive
    assert len(truth.owner) == len(truth.in_phase) == len(truth.out_phase) == len(alive)
    assert set(truth.owner[alive]) == {0, 1}
    assert set(truth.in_phase[alive]) == IN
    assert set(truth.out_phase[alive]) == OUT
    assert (truth.owner[~alive] == -1).all()
    assert set(truth.in_phase[~alive]) == {""} == set(truth.out_phase[~alive])


def test_every_phase_takes_a_fair_share_of_live_time(made):
    alive = made.match.tracking.alive
    for phases, names in ((made.truth.in_phase, IN), (made.truth.out_phase, OUT)):
        shares = {name: float(np.mean(phases[alive] == name)) for name in names}
        assert min(shares.values()) >= 0.02, shares
    assert np.mean(made.truth.in_phase[alive] == "set play") <= 0.08


def test_set_play_is_the_same_word_on_both_sides(made):
    truth = made.truth
    # the block may be told a moment later that the set play is over, never earlier
    assert np.mean((truth.in_phase == "set play") != (truth.out_phase == "set play")) < 0.002


@pytest.mark.parametrize("name", OFTEN)
def test_each_pattern_can_be_counted(made, name):
    assert int((made.truth.patterns["pattern"] == name).sum()) >= 15


def test_spans_lie_inside_their_periods(made):
    length = {p.number: p.duration_s for p in made.match.periods}
    for table in (made.truth.patterns, made.truth.marking):
        assert (table["start_s"] >= 0).all()
        assert (table["end_s"] > table["start_s"]).all()
        assert (table["end_s"] <= table["period"].map(length) + 1e-6).all()


def test_markers_and_marked_are_of_different_sides_and_on_the_pitch(made):
    tracking, marking = made.match.tracking, made.truth.marking
    assert len(marking) > 100
    side = {p.player_id: t.team_id for t in made.match.teams for p in t.players}
    assert (marking["marker"].map(side) == marking["team"]).all()
    assert (marking["marked"].map(side) != marking["team"]).all()
    for row in marking[::7].itertuples():
        i = tracking.index_at(row.period, row.start_s)
        assert np.isfinite(tracking.xy[i, tracking.column(row.marker), 0])
        assert np.isfinite(tracking.xy[i, tracking.column(row.marked), 0])


def test_told_to_mark_means_marking(made):
    # in a man-oriented press the marker ends up nearer to his man than he was, or already close (design)
    tracking = made.match.tracking
    orders = made.truth.marking
    orders = orders[(orders["why"] == "press") & (orders["end_s"] - orders["start_s"] > 4)]
    gap = []
    for row in orders.itertuples():
        i = tracking.index_at(row.period, row.start_s + 3.5)
        a, b = tracking.column(row.marker), tracking.column(row.marked)
        gap.append(np.linalg.norm(tracking.xy[i, a] - tracking.xy[i, b]))
    assert np.nanmedian(gap) < 6.0


def test_told_to_counter_press_means_hunting(made):
    # two seconds on, two of the side are within 7 m of the ball (coaches' five-second hunt, common practice)
    tracking, truth = made.match.tracking, made.truth
    start = np.flatnonzero((truth.out_phase[1:] == "counter-press") & (truth.out_phase[:-1] != "counter-press")) + 1
    near = []
    for i in start:
        j = i + 50
        if j < len(truth.owner) and truth.out_phase[j] == "counter-press":
            hunters = np.asarray(tracking.team_index) == 1 - truth.owner[j]
            d = np.linalg.norm(tracking.xy[j, hunters] - tracking.ball[j, :2], axis=1)
            near.append(np.sort(d)[1])
    assert len(near) > 10 and np.median(near) < 7.0


def test_long_balls_say_who_won_first_and_second_ball(made):
    long = made.truth.patterns[made.truth.patterns["pattern"] == "long ball"]
    known = long[long["second_ball"] != ""]
    assert len(known) > 0.6 * len(long)
    assert set(known["first_ball"]) <= {t.team_id for t in made.match.teams}


def test_build_up_is_seen_against_different_numbers_of_pressers(made):
    builds = made.truth.patterns[made.truth.patterns["pattern"] == "build-up"]
    assert builds["n_against"].nunique() >= 2
    assert builds["n_for"].nunique() >= 2


def test_the_truth_is_written_beside_the_match_and_read_back(tmp_path, made):
    folder = write_demo(tmp_path / "one", rate_hz=5)
    again = simulate(rate_hz=5).truth
    back = read_truth(folder)
    np.testing.assert_array_equal(back.owner, again.owner)
    np.testing.assert_array_equal(back.in_phase, again.in_phase)
    np.testing.assert_array_equal(back.out_phase, again.out_phase)
    pd.testing.assert_frame_equal(back.marking, again.marking)
    pd.testing.assert_frame_equal(back.patterns, again.patterns)
    assert sum(f.stat().st_size for f in (folder / "truth").iterdir()) < 300_000
    assert read_match(folder).match_id == made.match.match_id
    first = {f.name: f.read_bytes() for f in (folder / "truth").iterdir()}
    write_demo(folder, rate_hz=5)  # a second writing replaces both
    assert {f.name: f.read_bytes() for f in (folder / "truth").iterdir()} == first


def test_the_check_accepts_a_match_with_its_truth(tmp_path):
    folder = write_demo(tmp_path / "one", rate_hz=1)
    assert check_files([folder]).errors == []


def test_a_match_without_truth_says_so(tmp_path):
    with pytest.raises(MissingDataError) as caught:
        read_truth(tmp_path)
    assert str(caught.value) == (
        f"{tmp_path} holds no truth; looked for {tmp_path / 'truth' / 'truth.json'}. Only a simulated match has one; "
        "write such a match with: tactical-kit demo FOLDER"
    )


def test_the_truth_of_another_match_is_refused(tmp_path):
    one, two = write_demo(tmp_path / "one", rate_hz=1), write_demo(tmp_path / "two", seed=5, rate_hz=1)
    (one / "truth").rename(tmp_path / "waiting")
    (two / "truth").rename(one / "truth")
    with pytest.raises(
        TacticalKitError,
        match=r"it belongs to match 'demo-lanterns-marsh-seed-5', the folder holds "
        r"'demo-lanterns-marsh-seed-2'",
    ):
        read_truth(one)


def test_the_committed_match_holds_its_truth():
    folder = demo_match_path()
    truth, tracking = read_truth(folder), demo_match().tracking
    assert len(truth.owner) == len(tracking.alive)
    np.testing.assert_array_equal(truth.owner >= 0, tracking.alive)
