"""Moments as pictures: the drawn marks against the match's own positions, passes and the finder's table.

Common practice, no source.
"""

import re

import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.measures.passes import pass_table
from tactical_kit.moments import Column, Moments
from tactical_kit.scenes import Arrow, Ball, Disc


@pytest.fixture(scope="module")
def demo():
    return tk.demo_match()


@pytest.fixture(scope="module")
def builds(demo):
    return tk.find_build_ups(demo).where(team=demo.home.team_id)


@pytest.fixture(scope="module", params=[1, 2])
def row(builds, request):
    """A build-up of several passes in each half: the sides change ends."""
    several = builds.table[(builds["passes"] >= 3) & (builds["period"] == request.param)]
    return several.iloc[0]


def test_everybody_stands_where_he_stood_and_the_players_of_the_moment_are_ringed(demo, row):
    scene = tk.show_moment(demo, row)
    period, start = int(row["period"]), float(row["start_s"])
    snapshot = demo.snapshot(period, start)
    discs = {d.key: d for d in scene.of(Disc)}
    places = snapshot.xy * demo.attack_sign(row["team"], period)
    assert set(discs) == set(snapshot.players) and len(scene.of(Ball)) == 1
    for player, place in zip(snapshot.players, places):
        assert (discs[player].x, discs[player].y) == pytest.approx(tuple(place))
    assert {p for p, d in discs.items() if d.picked} == set(row["players"])
    assert scene.title == f"{demo.clock.label(period, start)}, build-up: Brinmar"
    assert scene.attacking == "Brinmar attack\u00a0→" and scene.source == "invented demonstration data"


def test_the_passes_of_the_span_are_drawn_and_no_others(demo, row):
    scene = tk.show_moment(demo, row, most_s=6.0)
    table = pass_table(demo)
    end = min(row["end_s"], row["start_s"] + 6.0)
    inside = table[(table["period"] == row["period"]) & table["time_s"].between(row["start_s"] - 1e-6, end - 1e-9)]
    far = np.hypot(inside["end_x"] - inside["x"], inside["end_y"] - inside["y"]) >= 1
    sign = np.where(inside["team"] == row["team"], 1, -1)[:, None]
    expected = inside[["x", "y", "end_x", "end_y"]].to_numpy() * sign
    drawn = [a for a in scene.of(Arrow) if a.style == "pass"]
    assert len(drawn) == far.sum() > 0
    assert np.array([(a.x0, a.y0, a.x1, a.y1) for a in drawn]) == pytest.approx(expected[far.to_numpy()])


def test_a_run_goes_from_where_he_is_to_where_he_is_at_the_end(demo, row):
    scene = tk.show_moment(demo, row, most_s=8.0, least_run_m=3.0)
    end = min(row["end_s"], row["start_s"] + 8.0)
    later = demo.snapshot(int(row["period"]), end)
    there = dict(zip(later.players, later.xy * demo.attack_sign(row["team"], int(row["period"]))))
    discs = {d.key: d for d in scene.of(Disc)}
    ways = {p: np.hypot(*(there[p] - (discs[p].x, discs[p].y))) for p in row["players"]}
    runs = [a for a in scene.of(Arrow) if a.style == "run"]
    assert len(runs) == sum(w >= 3.0 for w in ways.values())
    for run in runs:
        assert any((run.x1, run.y1) == pytest.approx(tuple(there[p]), abs=1e-3) for p in row["players"])


def test_the_caption_tells_the_finders_numbers(demo, row):
    first = [f"building: {row['n_for']:.0f}", f"pressing: {row['n_against']:.0f}", f"spare: {row['spare']:.0f}"]
    assert tk.show_moment(demo, row).caption.split("; ")[:3] == first
    chosen = tk.show_moment(demo, row, columns=("route", "keeper_played", "pressers")).caption
    who = ", ".join(demo.players[p].name for p in row["pressers"])
    yes = "yes" if row["keeper_played"] else "no"
    assert chosen == f"route: {row['route']}; keeper played: {yes}; pressers: {who}"
    press = tk.find_presses(demo).table.iloc[0]
    assert tk.show_moment(demo, press, columns=("closing_ms",)).caption == f"closing: {press['closing_ms']:.1f} m/s"


def test_what_is_unknown_is_left_out(demo, row):
    unknown = row.copy()
    unknown["n_for"], unknown["route"] = np.nan, ""
    assert tk.show_moment(demo, unknown, columns=("n_for", "route", "passes")).caption == f"passes: {row['passes']}"


def test_more_players_than_can_be_told_apart_are_not_ringed(demo, row):
    many = len(row["players"])
    picked = [sum(d.picked for d in tk.show_moment(demo, row, most_rings=n).of(Disc)) for n in (many, many - 1)]
    assert picked == [many, 0]


def test_moments_of_one_are_a_moment(demo, builds, row):
    one = builds.where(moment_id=row["moment_id"])
    assert tk.show_moment(demo, one) == tk.show_moment(demo, row)
    later = tk.show_moment(demo, one, after_s=2.0)
    assert later.title.startswith(demo.clock.label(int(row["period"]), row["start_s"] + 2.0))
    assert tk.show_moment(demo, row)._repr_png_()[0][:4] == b"\x89PNG"


def test_what_is_no_single_moment_is_refused(demo, builds):
    message = (
        f"show_moment shows one moment; met {len(builds)}. Take one, as found.table.iloc[0], or show the places of all "
        "by show_moments."
    )
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        tk.show_moment(demo, builds)
    message = "show_moment needs a row of a finder's table, as found.table.iloc[0]; met str."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        tk.show_moment(demo, "build-up-001")
    with pytest.raises(TacticalKitError, match=r"^column is 'rout'; expected one of .*Did you mean 'route'\?$"):
        tk.show_moment(demo, builds.table.iloc[0], columns=("rout",))


def test_a_match_without_positions_is_refused(new_match, builds):
    events_only = new_match(tracking=False)
    rows = [{"period": 1, "start_s": 1.0, "end_s": 2.0, "team": "h", "players": ()}]
    moment = Moments.build("drawn", rows, {}, {}, "m1")
    with pytest.raises(MissingDataError):
        tk.show_moment(events_only, moment)


def spots(match_id="m1", place=(10.0, -5.0), team="h"):
    rows = [
        {"period": 1, "start_s": 1.0, "end_s": 2.0, "team": team, "players": (), "x": 1.0, "y": 2.0, "won": True},
        {"period": 2, "start_s": 5.0, "end_s": 6.0, "team": team, "players": (), "x": place[0], "y": place[1]},
    ]
    rows[1]["won"] = False
    return Moments.build("drawn", rows, {"won": Column("bool", "won")}, {}, match_id)


def test_places_that_count_are_filled_and_the_others_hollow(new_match):
    match, found = new_match(), spots()
    scene = tk.show_moments(
        match, found.where(won=True), of=found, title="Won", caption="1 of 2", counted="won", others="lost"
    )
    assert [(d.x, d.y, d.filled, d.key) for d in scene.of(Disc)] == [
        (10.0, -5.0, False, "drawn-002"),
        (1.0, 2.0, True, "drawn-001"),
    ]
    assert (scene.title, scene.caption, scene.n, scene.n_of) == ("Won", "1 of 2.", 2, "moments of “drawn”")
    assert [k.text for k in scene.legend] == ["Alder Town, won", "hollow: lost"]
    assert [k.symbol for k in scene.legend] == ["home", "ghost"]  # hollow in the key is the mark of the side
    away = spots(team="a")
    assert [k.symbol for k in tk.show_moments(match, away, of=away).legend] == ["away", "ghost-away"]
    assert scene.subtitle.endswith("First half and second half")
    assert all(d.filled for d in tk.show_moments(match, found).of(Disc))


def test_a_moment_without_a_place_is_left_out_and_said(new_match):
    scene = tk.show_moments(new_match(), spots(place=(np.nan, np.nan)))
    assert [d.key for d in scene.of(Disc)] == ["drawn-001"]
    assert scene.caption == "1 without a place is left out." and scene.n == 2


def test_none_found_is_an_empty_pitch(new_match):
    found = spots()
    scene = tk.show_moments(new_match(), found.where(team="a"))
    assert (
        scene.of(Disc) == ()
        and scene.count_words.startswith("none: n = 0")
        and scene.message == "No moments left to draw."
    )


def test_moments_of_another_match_or_not_among_all_are_refused(new_match):
    match, found = new_match(), spots()
    with pytest.raises(TacticalKitError, match=r"^these moments are of match 'm2', not of 'm1'\.$"):
        tk.show_moments(match, spots("m2"))
    with pytest.raises(TacticalKitError, match=r"^1 of the moments to show are not among those in `of`\.$"):
        tk.show_moments(match, found, of=found.where(won=True))
    with pytest.raises(TacticalKitError, match=r"^show_moments needs Moments; met list\.$"):
        tk.show_moments(match, [])
