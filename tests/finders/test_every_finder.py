"""What holds of every registered finder, whatever it looks for."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import MissingDataError
from tactical_kit.finders import find, finder_names, get_finder
from tactical_kit.match import Match, Period, forget
from tactical_kit.moments import CORE_COLUMNS

NAMES = finder_names()


@pytest.fixture(scope="module")
def short(demo):
    """The first twelve minutes of each half of the demonstration match."""
    tracking, events = demo.tracking, demo.events
    keep = tracking.time_s < 720.0
    parts = {name: getattr(tracking, name)[keep] for name in ("period", "time_s", "xy", "ball", "alive")}
    kept = events[(events["time_s"] < 720) | (events["kind"] == "period-end")].reset_index(drop=True)
    kept.loc[kept["kind"] == "period-end", "time_s"] = 720.0
    periods = tuple(Period(p.number, 720.0, p.home_attacks) for p in demo.periods)
    return demo.with_data(tracking=dataclasses.replace(tracking, **parts), events=kept, periods=periods)


def rotated(match: Match) -> Match:
    """The same match filmed from the other side: every place turned by 180 degrees, ends changed."""
    events = match.events.copy()
    for column in ("x", "y", "end_x", "end_y"):
        events[column] = -events[column]
    t = match.tracking
    turned = dataclasses.replace(t, xy=-t.xy, ball=t.ball * np.array([-1, -1, 1], np.float32))
    periods = tuple(Period(p.number, p.duration_s, -p.home_attacks) for p in match.periods)
    return match.with_data(events=events, tracking=turned, periods=periods)


def same(a: pd.DataFrame, b: pd.DataFrame) -> None:
    pd.testing.assert_frame_equal(a, b, rtol=1e-3, atol=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_a_finder_finds_something_and_says_what(name, short):
    found = find(short, name)
    assert len(found), f"nothing found by {name!r} in 24 minutes of the demonstration match"
    described = get_finder(name).columns
    own = [c for c in found.table if c not in CORE_COLUMNS]
    assert list(described) == own
    assert set(found.table["team"]) <= {t.team_id for t in short.teams}
    assert all(p in short.players for players in found["players"] for p in players)
    assert (found["end_s"] >= found["start_s"]).all() and (found["end_s"] <= 720.0 + 1e-6).all()
    assert (found["x"].abs().dropna() <= 55).all() and (found["y"].abs().dropna() <= 37).all()
    assert set(get_finder(name).thresholds) <= set(found.params)


@pytest.mark.parametrize("name", NAMES)
def test_turning_the_pitch_changes_nothing(name, short):
    """A rotation by 180 degrees with the ends changed is the same match."""
    same(find(short, name).table, find(rotated(short), name).table)


@pytest.mark.parametrize("name", NAMES)
def test_naming_the_sides_the_other_way_round_changes_nothing(name, short):
    t = short.tracking
    swapped = dataclasses.replace(t, team_index=(1 - t.team_index).astype(np.int8))
    periods = tuple(Period(p.number, p.duration_s, -p.home_attacks) for p in short.periods)
    other = short.with_data(home=short.away, away=short.home, tracking=swapped, periods=periods)
    order = ["period", "start_s", "end_s", "team"]
    a, b = (find(m, name).table.sort_values(order, kind="stable", ignore_index=True) for m in (short, other))
    same(a.drop(columns="moment_id"), b.drop(columns="moment_id"))


@pytest.mark.parametrize("name", NAMES)
def test_the_same_match_gives_the_same_answer_to_the_byte(name, short):
    first = find(short, name).table
    assert find(short, name).table is not first  # a column added to one answer does not show in the next
    forget(short)
    again = find(short, name).table
    pd.testing.assert_frame_equal(first, again, check_exact=True)


@pytest.mark.parametrize("name", NAMES)
def test_missing_frames_and_players_are_borne(name, short):
    """Half a minute of frames is missing, a player is missing for a minute, the ball for ten seconds."""
    t = short.tracking
    xy, ball = t.xy.copy(), t.ball.copy()
    xy[(t.period == 1) & (t.time_s >= 200) & (t.time_s < 260), 3] = np.nan
    ball[(t.period == 1) & (t.time_s >= 300) & (t.time_s < 310)] = np.nan
    keep = ~((t.period == 1) & (t.time_s >= 100) & (t.time_s < 130))
    parts = {n: getattr(t, n)[keep] for n in ("period", "time_s", "alive")} | {"xy": xy[keep], "ball": ball[keep]}
    found = find(short.with_data(tracking=dataclasses.replace(t, **parts)), name)
    assert found.table.dtypes.to_dict() == find(short, name).table.dtypes.to_dict()


@pytest.mark.parametrize("name", NAMES)
def test_what_the_data_cannot_bear_is_refused_in_words(name, short):
    finder = get_finder(name)
    for kept in (
        short.with_data(events=None),
        short.with_data(tracking=None),
        short.with_data(events=None, tracking=None),
    ):
        if finder.missing(kept):
            with pytest.raises(MissingDataError) as refused:
                find(kept, name)
            assert str(refused.value).startswith(f"Finder {name!r} needs ") and kept.level in str(refused.value)
        else:
            find(kept, name)


STILLS = [name for name in NAMES if any("stills" in need for need in get_finder(name).needs)]


@pytest.mark.parametrize("name", STILLS)
def test_a_handful_of_stills_is_searched_like_the_instants_they_are(name, short):
    """Stills taken where the finder found something with tracking: same columns, nothing that needs time is guessed."""
    found = find(short, name)
    events = short.events if any(need.startswith("events") for need in get_finder(name).needs) else None
    rows = found.table.drop_duplicates(["period", "start_s"]).head(8)
    stills = tuple(short.snapshot(int(r.period), float(r.end_s) - 0.2) for r in rows.itertuples())
    alone = short.with_data(tracking=None, events=events, stills=stills)
    seen = find(alone, name)
    assert seen.table.dtypes.to_dict() == found.table.dtypes.to_dict()
    assert set(seen.table["team"]) <= {t.team_id for t in short.teams}
    instants = {(s.period, round(s.time_s, 3)) for s in stills}
    if name != "box occupation":  # that one is asked for at the deliveries of the events
        assert len(seen)
        assert {(p, round(t, 3)) for p, t in zip(seen["period"], seen["start_s"])} <= instants


def test_a_block_in_a_still_has_the_numbers_of_that_instant(short):
    """The widths and heights of one still, by hand from the places in it."""
    shot = short.snapshot(1, 95.0)
    alone = short.with_data(tracking=None, events=None, stills=(shot,))
    for row in find(alone, "block"):
        side = short.team_index(row["team"])
        turned = shot.attacking(side)
        keepers = np.array([short.players[p].position == "GK" for p in shot.players])
        mine = turned.xy[turned.side(side) & ~keepers]
        assert row["width_m"] == pytest.approx(np.ptp(mine[:, 1]), abs=1e-3)
        assert row["depth_m"] == pytest.approx(np.ptp(mine[:, 0]), abs=1e-3)
        assert np.isnan(row["shift_ms"])
