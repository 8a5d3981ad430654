"""Charts draw the numbers of the measures, all of them and no others."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Period, Player, Snapshot, Team, events_table
from tactical_kit.measures.index import index_match
from tactical_kit.measures.pass_network import pass_network
from tactical_kit.measures.pressure import pressure_map
from tactical_kit.measures.progression import progression_zones
from tactical_kit.measures.selection import Selection
from tactical_kit.pitch import CORRIDORS
from tactical_kit.scenes import Arrow, Ball, Disc, Label, Line, Scene, Zone
from tactical_kit.scenes.chart_words import attack_words, brief_name, signed
from tactical_kit.scenes.charts import network_scene, pressure_scene, progression_scene, snapshot_scene
from tactical_kit.scenes.layers import DRAW_ORDER, lay_out
from tactical_kit.scenes.style import PAPER
from tactical_kit.scenes.zone_charts import _free_corner, _ways

HOME = Selection(team="h")
FIRST = Selection(team="h", segment=(1, 0, 600))
NEVER = Selection(team="h", segment=(1, 0, 0.5))


def plus_minus(text):
    """The number of a signed note: "▲ 6" is 6, "▼ 3" is -3."""
    return {"▲": 1, "▼": -1, "=": 0}[text[0]] * float(text[2:])


# -- pass network -----------------------------------------------------------------------------------------


def test_network_discs_are_the_players(index, match, odd_name):
    network = pass_network(index, HOME)
    scene = network_scene(network, match)
    discs = {d.key: d for d in scene.of(Disc)}
    assert list(discs) == network.players["player"].tolist()
    for row in network.players.itertuples():
        disc = discs[row.player]
        assert (disc.x, disc.y, disc.value, disc.label, disc.team) == (row.x, row.y, row.strength, row.label, 0)
        assert f"passes made: {row.passes}\nreceived: {row.received}" in disc.hover
    assert discs["h2"].hover.startswith(odd_name + "\n")
    # Area less the smallest disc goes with the strength: (r - 1.5)^2 / strength is one number.
    ratios = [(d.radius_m - 1.5) ** 2 / d.value for d in discs.values()]
    assert ratios == pytest.approx([ratios[0]] * len(ratios))


def test_players_without_shirts_bear_initials_so_that_no_disc_swells_over_its_neighbours(new_match):
    match = new_match()
    sides = [replace(t, players=tuple(replace(p, shirt=None) for p in t.players)) for t in match.teams]
    bare = Match("m1", *sides, match.periods, match.pitch, match.events, match.tracking, invented=True)
    discs = network_scene(pass_network(index_match(bare), HOME), bare).of(Disc)
    assert {d.label for d in discs} == {"AP", "<"} and all(d.name for d in discs[:1])
    assert {d.label for d in snapshot_scene(bare.snapshot(1, 100.0), bare).of(Disc)} == {"AP", "<", "BP"}


def test_network_arrows_are_the_links(index, match):
    network = pass_network(index, HOME, min_passes=4)
    scene = network_scene(network, match, lane_gap_m=0.0)
    arrows = {a.key: a for a in scene.of(Arrow)}
    assert len(arrows) == len(network.links) > 3
    for row in network.links.itertuples():
        arrow = arrows[f"{row.player}>{row.receiver}"]
        assert (arrow.x0, arrow.y0, arrow.x1, arrow.y1) == (row.x, row.y, row.end_x, row.end_y)
        assert arrow.value == row.passes >= 4
        assert arrow.width == pytest.approx(0.8 + 3.4 * row.passes / network.links["passes"].max())
    assert scene.n == network.n and scene.count_words == f"n = {network.n} completed passes"


def test_network_arrows_of_a_pair_lie_apart(index, match):
    scene = network_scene(pass_network(index, HOME), match, lane_gap_m=0.7)
    arrows = {a.key: a for a in scene.of(Arrow)}
    key = next(k for k in arrows if ">".join(reversed(k.split(">"))) in arrows)
    there, back = arrows[key], arrows[">".join(reversed(key.split(">")))]
    assert math.hypot(there.x0 - back.x1, there.y0 - back.y1) == pytest.approx(1.4)
    # To the right of the way: the cross product of way and shift is negative.
    way, shift = (there.x1 - there.x0, there.y1 - there.y0), (there.x0 - back.x1, there.y0 - back.y1)
    assert way[0] * shift[1] - way[1] * shift[0] < 0


def test_network_ghost_is_the_other_network(index, match):
    now, whole = pass_network(index, FIRST), pass_network(index, HOME)
    scene = network_scene(now, match, whole)
    ghosts = scene.of(Disc, "ghost")
    assert [(g.x, g.y, g.value) for g in ghosts] == list(
        whole.players[["x", "y", "strength"]].itertuples(index=False, name=None)
    )
    here = now.players.set_index("player")
    old = whole.players.set_index("player")
    moved = [
        p for p in old.index if math.hypot(*(here.loc[p, ["x", "y"]] - old.loc[p, ["x", "y"]]).astype(float)) > 0.5
    ]
    assert len(scene.of(Line, "ghost")) == len(moved) > 0
    for line, player in zip(scene.of(Line, "ghost"), moved):
        assert line.points == (tuple(old.loc[player, ["x", "y"]]), tuple(here.loc[player, ["x", "y"]]))
    assert any(item.text == "hollow: whole match" for item in scene.legend)


def test_network_rings_picked_players(index, match):
    scene = network_scene(pass_network(index, HOME.replace(players=frozenset(["h3"]))), match)
    assert [d.key for d in scene.of(Disc) if d.picked] == ["h3"]


# -- progression ------------------------------------------------------------------------------------------


def test_progression_zones_arrows_and_entries(index, match):
    result = progression_zones(index, HOME)
    scene = progression_scene(result, match, most_flows=5, least_flow=3)
    zones = scene.of(Zone)
    assert [z.value for z in zones] == result.zones["gained_m"].tolist()
    assert [z.key for z in zones] == match.pitch.named_zones().names()
    for zone, row in zip(zones, result.zones.itertuples()):
        x0, y0, x1, y1 = result.grid.bounds(row.zone)
        assert zone.points == ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        assert zone.label == (f"{row.gained_m:.0f} m" if row.actions else "")
        assert zone.few == (0 < row.actions < 3)
    flows = result.flows[result.flows["count"] >= 3].head(5)
    arrows = sorted(scene.of(Arrow), key=lambda a: (-a.value, a.key))
    assert [a.value for a in arrows] == sorted(flows["count"], reverse=True)
    assert {(a.x0, a.y0, a.x1, a.y1) for a in arrows} == set(
        flows[["x", "y", "end_x", "end_y"]].itertuples(index=False, name=None)
    )
    expected = result.entries.groupby(["entry", "corridor"])["count"].sum()
    assert {m.key: int(m.text.split()[0]) for m in scene.of(Label)} == {
        f"{e}, {c}": n for (e, c), n in expected.items()
    }
    for mark in scene.of(Label):
        entry, corridor = mark.key.split(", ")
        limit = match.pitch.third_edges[2] if entry == "final third" else match.pitch.penalty_area_x
        edges = match.pitch.corridor_edges
        row = CORRIDORS.index(corridor)
        assert abs(mark.x - limit) < 1 and edges[row] < mark.y < edges[row + 1]
    assert scene.n == result.n


def test_progression_ghost_is_the_shift_of_shares(index, match):
    now, whole = progression_zones(index, FIRST), progression_zones(index, HOME)
    scene = progression_scene(now, match, whole)
    share, old = (r.zones["gained_m"] / r.zones["gained_m"].sum() * 100 for r in (now, whole))
    for zone, shift, actions in zip(scene.of(Zone), share - old, now.zones["actions"]):
        if actions:
            assert plus_minus(zone.note) == round(shift) or abs(shift) < 0.5
        else:
            assert zone.note == ""


def test_zones_of_different_grids_are_not_compared(index, match):
    grid = match.pitch.grid(6, 3)
    message = r"^the zones compared differ: a grid of \(3, 5\) and one of \(6, 3\); use one grid\.$"
    with pytest.raises(TacticalKitError, match=message):
        progression_scene(progression_zones(index, HOME), match, progression_zones(index, HOME, grid))


# -- pressure ---------------------------------------------------------------------------------------------


def test_pressure_zones_are_the_map(index, match):
    result = pressure_map(index, HOME, match.pitch.grid(8, 5))
    scene = pressure_scene(result, match, few_seconds=4.0)
    for zone, row in zip(scene.of(Zone), result.zones.itertuples(), strict=True):
        few = 0 < row.seconds < 4.0
        assert zone.value == row.pressure_pct or (math.isnan(zone.value) and math.isnan(row.pressure_pct))
        assert zone.few == few
        assert zone.label == (f"{row.pressure_pct:.0f} %" if row.seconds >= 4.0 else "")
        assert (zone.shade is None) == (row.seconds < 4.0)
        # To the tenth where it is few, so that 3.8 s, hatched, does not read as the limit of 4.
        said = f"{row.seconds:.1f} s" if few else f"{row.seconds:.0f} s"
        assert zone.note == (said if row.seconds > 0 else "")
    shades = [(z.value, z.shade) for z in scene.of(Zone) if z.shade is not None]
    assert len(shades) > 3
    top = next(float(item.text.split()[-2]) for item in scene.legend if item.symbol == "ramp")
    assert [s for _, s in shades] == pytest.approx([v / top for v, _ in shades])
    assert scene.n == round(result.seconds)


def test_few_seconds_sit_on_the_edge(index, match):
    result = pressure_map(index, HOME, match.pitch.grid(8, 5))
    seconds = float(result.zones["seconds"][result.zones["seconds"] > 0].min())
    at, above = (pressure_scene(result, match, few_seconds=s) for s in (seconds, seconds + 1e-9))
    few = [sum(z.few for z in scene.of(Zone)) for scene in (at, above)]
    assert few[0] == 0 and few[1] >= 1


def test_pressure_ghost_is_the_difference_in_points(index, match):
    grid = match.pitch.grid(8, 5)
    now, whole = pressure_map(index, FIRST, grid), pressure_map(index, HOME, grid)
    scene = pressure_scene(now, match, whole, few_seconds=1.0)
    shift = now.zones["pressure_pct"] - whole.zones["pressure_pct"]
    seen = 0
    for zone, value, seconds in zip(scene.of(Zone), shift, now.zones["seconds"]):
        if seconds >= 1 and not math.isnan(value):
            assert zone.note == signed(value)
            seen += 1
        else:
            assert zone.note == ""
    assert seen > 3


def test_events_alone_are_marked_as_an_estimate(events_index):
    result = pressure_map(events_index, HOME, events_index.match.pitch.grid(6, 3))
    scene = pressure_scene(result, events_index.match)
    assert scene.title == "Defensive actions of Beck Rovers (estimate, no tracking)"
    assert [z.value for z in scene.of(Zone)] == result.zones["defensive_actions"].tolist()
    assert sum(z.value for z in scene.of(Zone)) > 5
    assert "the coarser thing" in scene.caption


def test_pressure_put_on_the_others_is_named_so(index, match):
    on = pressure_scene(pressure_map(index, HOME), match)
    by = pressure_scene(pressure_map(index, Selection(team="a", phases="high press")), match)
    assert (on.title, by.title) == ("Pressure on Alder Town", "Pressure by Beck Rovers")


# -- all three --------------------------------------------------------------------------------------------

CHARTS = [
    (pass_network, network_scene, "No completed passes left to draw."),
    (progression_zones, progression_scene, "No passes or carries that gain ground left to draw."),
    (pressure_map, pressure_scene, "No time on the ball left to draw."),
]


@pytest.mark.parametrize(("measure", "chart", "words"), CHARTS)
def test_empty_selection_says_so_and_why(index, match, measure, chart, words):
    scene = chart(measure(index, NEVER), match, empty_because="“first half 00:00-00:00” leaves nothing.")
    assert scene.message == f"{words}\n“first half 00:00-00:00” leaves nothing."
    assert scene.count_words.startswith("none: n = 0 ")
    assert chart(measure(index, HOME), match).message == ""


@pytest.mark.parametrize(("measure", "chart", "words"), CHARTS)
def test_heading_names_the_side_once_besides_the_match(index, match, measure, chart, words):
    for selection, said in (
        (HOME, "The whole match"),
        (Selection(team="h", phases="build-up", segment=(1, 0, 300)), "In build-up, first half 00:00-05:00"),
    ):
        scene = chart(measure(index, selection), match)
        assert scene.subtitle == f"Alder Town v Beck Rovers\n{said}"


def test_direction_of_attack_uses_short_names_that_differ():
    squad = {t: Team(t, f"Team {t}", "Rovers", (Player(f"{t}1", "One", t),)) for t in "ab"}
    periods = (Period(1, 600.0, 1),)
    match = Match("m", squad["a"], squad["b"], periods)
    assert [brief_name(match, side) for side in (0, 1)] == ["Team a", "Team b"]
    match = Match("m", replace(squad["a"], short_name="Alder"), squad["b"], periods)
    assert [brief_name(match, side) for side in (0, 1)] == ["Alder", "Rovers"]
    assert attack_words(match, Selection(team="a")) == "Alder attack\u00a0→"


@pytest.mark.parametrize(("measure", "chart", "words"), CHARTS)
def test_picture_says_what_it_is(index, match, measure, chart, words):
    selection = Selection(team="h", segment=(1, 0, 300))
    scene = chart(measure(index, selection), match)
    assert "Alder Town" in scene.title
    assert scene.subtitle == "Alder Town v Beck Rovers\nFirst half 00:00-05:00"
    assert scene.attacking == "Alder Town attack\u00a0→"
    assert scene.source == "invented demonstration data"
    assert scene.n > 0


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        (-25.4, -2.2, "25 m into their own half, 2 m to the right"),
        (12.0, 3.0, "12 m into the opponents’ half, 3 m to the left"),
        (0.4, -0.4, "on halfway, in the middle"),
    ],
)
def test_mean_place_is_told_in_words(index, match, x, y, said):
    network = pass_network(index, HOME)
    network = replace(network, summary=network.summary | {"centroid_x": x, "centroid_y": y})
    assert network_scene(network, match).caption.startswith(f"Mean place of the passes: {said}; ")


def test_words_of_a_zone_lie_on_a_plate_above_the_arrows(index, match):
    scene = progression_scene(progression_zones(index, HOME), match)
    tables = lay_out(scene)
    assert DRAW_ORDER.index("main.texts") > DRAW_ORDER.index("main.heads")
    fills = set(tables["main.zones"]["fill"])
    words = {z.label for z in scene.of(Zone) if z.label} | {z.note for z in scene.of(Zone) if z.note}
    texts = tables["main.texts"]
    plates = [(b, p) for t, b, p in zip(texts["text"], texts["back"], texts["plate"]) if t in words]
    assert len(plates) >= len(words) > 5
    assert all(back == 0.85 and plate in fills | {PAPER} for back, plate in plates)


def test_legend_of_the_zones_explains_what_is_drawn_and_nothing_else(index, match):
    share, entries = "“carry 60 %”: what gained most of it, and its share", "“5 ▸” on a limit: entries to the final"
    whole = progression_zones(index, HOME)
    alone, compared = progression_scene(whole, match), progression_scene(whole, match, whole)
    assert share in [item.text for item in alone.legend]
    assert share not in [item.text for item in compared.legend]
    assert any(item.text.startswith(entries) for item in alone.legend) and len(whole.entries)
    none = progression_scene(replace(whole, entries=whole.entries[:0]), match)
    assert not any(item.text.startswith(entries) for item in none.legend)


def test_words_of_a_zone_take_the_corner_that_arrows_leave_free():
    upper_left = _ways(pd.DataFrame({"x": [-10.0], "y": [8.0], "end_x": [12.0], "end_y": [8.0]}))
    lower_left = upper_left * (1, -1)
    nowhere = upper_left[:0]
    corners = [_free_corner(ways, 0.0, -10.0, 10.0) for ways in (upper_left, lower_left, nowhere)]
    assert corners == ["lower", "upper", "upper"]
    for corner, label_y, note_y in (("upper", 7.8, 4.6), ("lower", -4.6, -7.8)):
        zone = Zone.rect(0, -10, 20, 10, label="9 m", note="carry", corner=corner)
        texts = lay_out(Scene("t", marks=(zone,)))["main.texts"]
        assert texts["y"] == pytest.approx([label_y, note_y])  # the label stands above the note in either


@pytest.mark.parametrize(("measure", "chart", "words"), CHARTS)
def test_few_instances_are_called_few(index, match, measure, chart, words):
    scene = chart(measure(index, Selection(team="h", segment=(1, 0, 12))), match)
    assert scene.count_words.startswith(f"few: n = {scene.n} ")


@pytest.mark.parametrize("size", [(90, 45), (120, 90)])
@pytest.mark.parametrize(("measure", "chart", "words"), CHARTS)
def test_any_pitch_size(new_match, size, measure, chart, words):
    from tactical_kit.measures.index import index_match
    from tactical_kit.pitch import Pitch

    small = new_match(Pitch(*size))
    scene = chart(measure(index_match(small), HOME), small)
    assert scene.pitch == Pitch(*size) and len(scene.marks) > 5
    scene.canvas()


# -- an instant -------------------------------------------------------------------------------------------


def test_instant_is_the_snapshot(match):
    snapshot = match.snapshot(2, 100.0)
    scene = snapshot_scene(snapshot, match)
    assert [(d.x, d.y) for d in scene.of(Disc)] == [tuple(p) for p in snapshot.xy.tolist()]
    assert [d.key for d in scene.of(Disc)] == list(snapshot.players)
    assert [d.team for d in scene.of(Disc)] == [0] * 6 + [1] * 6
    assert [d.label for d in scene.of(Disc)] == [match.players[p].label for p in snapshot.players]
    ball = scene.of(Ball)[0]
    assert (ball.x, ball.y, ball.height_m) == tuple(snapshot.ball)
    assert scene.title == "46:40" and scene.subtitle.endswith("Second half")
    # The home side attacks towards -x in this period.
    assert scene.attacking == "←\u00a0Alder Town attack · Beck Rovers attack\u00a0→"


def test_instant_turned_for_a_side(match):
    snapshot = match.snapshot(2, 100.0)
    scene = snapshot_scene(snapshot, match, team="h")
    assert [(d.x, d.y) for d in scene.of(Disc)] == [tuple(p) for p in (-snapshot.xy).tolist()]
    assert scene.attacking.startswith("Alder Town attack\u00a0→")


def test_ticks_end_where_the_speed_leads(match):
    made = Snapshot(
        1, 60.0, ("h1", "h2", "a1"), np.array([0, 0, 1], "int8"), np.array([[0, 0], [10, 5], [20, 0]], float),
        np.array([[3, 4], [0, 0.49], [0.5, 0]], float), np.array([np.nan] * 3), np.array([np.nan] * 3), (1, -1),
    )  # fmt: skip
    scene = snapshot_scene(made, match, look_ahead_s=2.0)
    assert [line.points for line in scene.of(Line)] == [((0, 0), (6, 8)), ((20, 0), (21, 0))]  # 0.49 m/s: no tick
    assert scene.of(Ball) == ()
    assert "speed: 5.0 m/s" in scene.of(Disc)[0].hover


def test_instant_before_and_after(match):
    now, before = match.snapshot(1, 60.0), match.snapshot(1, 50.0)
    scene = snapshot_scene(now, match, ghost=before)
    assert [(d.x, d.y) for d in scene.of(Disc, "ghost")] == [tuple(p) for p in before.xy.tolist()]
    for line, old, new in zip(scene.of(Line, "ghost"), before.xy.tolist(), now.xy.tolist(), strict=True):
        assert line.points == (tuple(old), tuple(new))


def _passes(match, places):
    """Passes of h1 to h2, from and to the places given."""
    rows = [
        {"period": 1, "time_s": 10.0 * i, "kind": "pass", "team": "h", "player": "h1", "receiver": "h2",
         "success": True, "outcome": "complete", "x": x, "y": y, "end_x": end_x, "end_y": end_y}
        for i, (x, y, end_x, end_y) in enumerate(places)
    ]  # fmt: skip
    return match.with_data(events=events_table(rows), tracking=None)


def test_network_without_places_counts_but_does_not_draw(match):
    """A log of events need not tell places: the counts stand, and the picture says who is not drawn."""
    nan = math.nan
    known = _passes(match, [(0.0, 0.0, nan, nan)] * 3)
    nowhere = _passes(match, [(nan, nan, nan, nan)] * 3)
    whole = pass_network(index_match(nowhere), HOME)
    scene = network_scene(pass_network(index_match(known), HOME), match, ghost=whole)
    assert (scene.n, len(scene.of(Disc)), len(scene.of(Arrow))) == (3, 1, 0)
    assert scene.caption == (
        "Mean place of the passes: on halfway, in the middle; 1 player without a known place not drawn. "
        "Only 3 passes: places and links are rough"
    )
    scene = network_scene(whole, match)
    assert (scene.n, scene.marks) == (3, ())
    assert scene.caption == "2 players without a known place not drawn. Only 3 passes: places and links are rough"


def test_network_of_straight_passes_has_no_advance_ratio(match):
    """No metre across: the ratio is undefined and is not said (computed)."""
    network = pass_network(index_match(_passes(match, [(0.0, 0.0, 10.0, 0.0)] * 3)), HOME)
    assert math.isnan(network.summary["advance_ratio"])
    said = "Mean place of the passes: on halfway, in the middle. Only 3 passes: places and links are rough"
    assert network_scene(network, match).caption == said
