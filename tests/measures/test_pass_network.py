"""The pass network: published graphs, a matrix worked out with networkx, and matches counted by hand."""

import itertools
import math
from collections import Counter

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.match import Period
from tactical_kit.measures.index import index_match
from tactical_kit.measures.pass_network import network_measures, pass_network
from tactical_kit.measures.selection import Selection

W = np.array([[0, 10, 2, 0], [5, 0, 8, 2], [1, 6, 0, 5], [0, 0, 3, 0]])  # GK CB MF FW, 42 passes


def matrix_of(graph, nodes):
    return nx.to_numpy_array(graph, nodelist=nodes, weight=None).astype(int)


# -- measures of a matrix -----------------------------------------------------------------------------


def test_own_matrix():
    """Worked with networkx 3.6 (computed): PageRank .85, betweenness raw of 6, clustering directed weighted."""
    found = network_measures(W)
    assert W.sum() == 42
    assert found["strength"].tolist() == [12 + 6, 15 + 16, 12 + 13, 3 + 7]
    assert found["pagerank"] == pytest.approx([0.146468, 0.294466, 0.360512, 0.198554], abs=5e-7)
    assert found["betweenness"] * 6 == pytest.approx([0, 4, 4, 0], abs=1e-12)
    assert found["clustering"] == pytest.approx([0.416699, 0.303099, 0.202066, 0.378998], abs=5e-7)


def test_traps_of_the_own_matrix():
    """The two classic faults give other numbers, and must not be ours (computed with networkx).

    Taking the weight itself as the length of a link gives betweenness 0 0 4 1; PageRank without weights differs.
    """
    graph = nx.from_numpy_array(W, create_using=nx.DiGraph)
    wrong = nx.betweenness_centrality(graph, weight="weight", normalized=False)
    assert [wrong[i] for i in range(4)] == [0, 0, 4, 1]
    assert (network_measures(W)["betweenness"] * 6).tolist() != pytest.approx([0, 0, 4, 1])
    plain = nx.pagerank(graph, weight=None)
    assert network_measures(W)["pagerank"].tolist() != pytest.approx([plain[i] for i in range(4)], abs=1e-3)


def test_krackhardts_kite():
    """Krackhardt 1990, ASQ 35:342, betweenness of nodes 0-9 as printed (seen) and computed."""
    kite = matrix_of(nx.krackhardt_kite_graph(), range(10))
    printed = [0.023, 0.023, 0, 0.102, 0, 0.231, 0.231, 0.389, 0.222, 0]
    assert network_measures(kite)["betweenness"].round(3).tolist() == printed


def test_pagerank_figure():
    """The PageRank figure of the open encyclopedia, d = 0.85, A dangling (seen and computed)."""
    edges = [
        "B>C",
        "C>B",
        "D>A",
        "D>B",
        "E>B",
        "E>D",
        "E>F",
        "F>B",
        "F>E",
        "G>B",
        "G>E",
        "H>B",
        "H>E",
        "I>B",
        "I>E",
        "J>E",
        "K>E",
    ]
    graph = nx.DiGraph([tuple(e.split(">")) for e in edges])
    found = dict(zip("ABCDEFGHIJK", network_measures(matrix_of(graph, "ABCDEFGHIJK"))["pagerank"], strict=True))
    figure = dict(A=0.03278149, B=0.38440095, C=0.34291029, D=0.03908709, E=0.08088569, F=0.03908709)
    for node, value in found.items():
        assert value == pytest.approx(figure.get(node, 0.01616948), abs=2e-8)


counts = hnp.arrays(np.int64, st.integers(2, 8).map(lambda n: (n, n)), elements=st.integers(0, 9))


@settings(deadline=None, derandomize=True)
@given(counts)
def test_equals_networkx(passes):
    """networkx itself, with lengths as exact fractions."""
    from fractions import Fraction

    np.fill_diagonal(passes, 0)
    graph = nx.from_numpy_array(passes, create_using=nx.DiGraph)
    for _, _, data in graph.edges(data=True):
        data["length"] = Fraction(1, int(data["weight"]))
    found = network_measures(passes)
    nodes = range(len(passes))
    between = nx.betweenness_centrality(graph, weight="length")
    assert found["betweenness"] == pytest.approx([between[i] for i in nodes], abs=1e-9)
    clustering = nx.clustering(graph, weight="weight")
    assert found["clustering"] == pytest.approx([clustering[i] for i in nodes], abs=1e-9)
    rank = nx.pagerank(graph, weight="weight", tol=1e-12, max_iter=1000)
    assert found["pagerank"] == pytest.approx([rank[i] for i in nodes], abs=1e-6)


def test_ways_of_equal_length_are_equal():
    """0 > 2 directly is 1/2 long, over 1 it is 1/3 + 1/6: the same, so node 1 has half of that pair.

    In floating point 1/3 + 1/6 happens to be 0.5; 1/49 counted seven times is not 1/7: both must be exact.
    """
    two_ways = np.array([[0, 3, 2], [0, 0, 6], [0, 0, 0]])
    assert network_measures(two_ways)["betweenness"][1] == pytest.approx(0.5 / 2)
    chain = np.zeros((11, 11), int)  # 0 > 1 > ... > 10, ten links of 1/10, and 0 > 10 directly of length 1
    chain[range(10), range(1, 11)] = 10
    chain[0, 10] = 1
    assert sum([1 / 10] * 10) != 1.0
    through_5 = 4 * 5 + 4 + 0.5  # pairs (1-4, 6-10), (0, 6-9), and half of (0, 10)
    assert network_measures(chain)["betweenness"][5] == pytest.approx(through_5 / 90)


def test_no_player_and_no_pass():
    for size in (0, 1, 3):
        found = network_measures(np.zeros((size, size), int))
        assert {k: v.shape for k, v in found.items()} == dict.fromkeys(found, (size,))
        assert not found["strength"].any()
        assert not found["clustering"].any()


# -- networks of a match ------------------------------------------------------------------------------


@pytest.fixture
def triangle(make_match, pass_row):
    """H6 > H10 three times, H10 > H6 twice, H10 > H9 once, one failed and one of the other side."""
    rows = [
        pass_row(10, "H6", "H10", (-10, 0), (10, 0)),
        pass_row(20, "H6", "H10", (-10, 4), (10, 4)),
        pass_row(30, "H6", "H10", (-10, -4), (10, -4)),
        pass_row(40, "H10", "H6", (12, 0), (-12, 0)),
        pass_row(50, "H10", "H6", (12, 0), (-12, 0)),
        pass_row(60, "H10", "H9", (20, 10), (30, 20)),
        pass_row(70, "H10", "A4", (0, 0), (5, 5), success=False),
        pass_row(80, "A4", "A5", (30, 30), (20, 20)),
    ]
    return index_match(make_match(rows))


def test_counted_by_hand(triangle):
    net = pass_network(triangle, Selection(team="H"), min_passes=2)
    players = net.players.set_index("player")
    assert players.index.tolist() == ["H6", "H9", "H10"]
    assert players[["passes", "received", "strength"]].to_numpy().tolist() == [[3, 2, 5], [0, 1, 1], [3, 3, 6]]
    # H6 passed from x = -10 three times and received at -12 twice; H10 received at 10 x3, passed from 12, 12, 20.
    assert players["x"].tolist() == pytest.approx([(-30 - 24) / 5, 30, (30 + 24 + 20) / 6])
    assert players["y"].tolist() == pytest.approx([0, 20, 10 / 6])
    assert players["minutes"].tolist() == [90.0, 90.0, 90.0]
    assert players.loc["H6", ["label", "name", "position"]].tolist() == ["6", "H Player 6", "DM"]
    links = net.links.set_index(["player", "receiver"])
    assert links["passes"].to_dict() == {("H6", "H10"): 3, ("H10", "H6"): 2}
    assert links["per_90"].tolist() == [3.0, 2.0]
    assert links.loc[("H6", "H10"), ["x", "end_x"]].tolist() == [players.x["H6"], players.x["H10"]]
    assert net.n == 6
    assert net.note == (
        "1 of 3 pairs have fewer than 2 passes and are not drawn; only 6 passes: places and links are rough"
    )
    # sum |dx| = 3 x 20 + 2 x 24 + 10, sum |dy| = 10; mean start x = (-30 + 24 + 20) / 6.
    assert net.summary == pytest.approx(dict(
        passes=6, links=3, links_not_drawn=1, density=3 / 6, centroid_x=14 / 6, centroid_y=10 / 6,
        advance_ratio=118 / 10,
    ))  # fmt: skip


def test_advance_ratio_worked_value(make_match, pass_row):
    """(0,0) > (10,5) > (12,-15) > (30,-10): 30 / 30 = 1 (computed; definition after Buldu et al., from memory)."""
    path = [(0, 0), (10, 5), (12, -15), (30, -10)]
    rows = [pass_row(i, "H6", "H10", a, b) for i, (a, b) in enumerate(itertools.pairwise(path))]
    net = pass_network(index_match(make_match(rows)), Selection(team="H"))
    assert net.summary["advance_ratio"] == 1.0
    straight = pass_network(index_match(make_match([pass_row(1, "H6", "H10", (0, 0), (9, 0))])), Selection(team="H"))
    assert math.isnan(straight.summary["advance_ratio"])


@pytest.mark.parametrize(("min_passes", "pairs"), [(1, 3), (2, 2), (3, 1), (4, 0)])
def test_exactly_min_passes_is_drawn(triangle, min_passes, pairs):
    net = pass_network(triangle, Selection(team="H"), min_passes=min_passes)
    assert len(net.links) == pairs
    assert (net.links["passes"] >= min_passes).all()
    assert len(net.players) == 3  # the measures use every pass, drawn or not
    assert net.players["strength"].sum() == 12


@pytest.mark.parametrize("period", [1, 2])
@pytest.mark.parametrize("team", ["H", "A"])
def test_both_directions_of_attack(make_match, pass_row, team, period):
    rows = [pass_row(1, f"{team}6", f"{team}10", (-20, 15), (30, -5), period=period)]
    net = pass_network(index_match(make_match(rows, attacking=True)), Selection(team=team))
    assert net.players[["x", "y"]].to_numpy().tolist() == [[-20, 15], [30, -5]]


def test_a_player_who_changes_ends_has_one_place(make_match, pass_row):
    periods = (Period(1, 2700, 1), Period(2, 2700, -1), Period(3, 900, 1), Period(4, 900, -1))
    rows = [pass_row(1, "H6", "H10", (-20, 15), (30, -5), period=p) for p in (1, 2, 3, 4)]
    match = make_match(rows, periods=periods, attacking=True)
    net = pass_network(index_match(match), Selection(team="H"))
    assert net.players[["x", "y"]].to_numpy().tolist() == [[-20, 15], [30, -5]]
    assert net.players["minutes"].tolist() == [120.0, 120.0]


# -- who played when ----------------------------------------------------------------------------------


def sub(time_s, off, on, period=2):
    return dict(kind="substitution", period=period, time_s=time_s, team=off[0], player=off, receiver=on)


@pytest.fixture
def substituted(make_match, pass_row):
    """H5 (LB) plays 60 minutes at the back, H12 (LB) comes for him and plays high up; H13 (ST) comes for H9 (RW),
    H14 (CM) for H7 (RCM): other labels, so they are not merged."""
    rows = [pass_row(t, "H5", "H10", (-30, 20), (0, 0)) for t in (10, 20, 30)]
    rows += [sub(900, "H5", "H12"), sub(900, "H9", "H13"), sub(1800, "H7", "H14")]
    rows += [pass_row(t, "H12", "H10", (30, 20), (0, 0), period=2) for t in (900, 1000, 1100)]
    rows += [pass_row(1900, "H14", "H13", (0, 0), (20, 0), period=2), pass_row(60, "H7", "H9", (0, 0), (20, 0))]
    return make_match(rows, attacking=True)


def test_a_substitute_does_not_blur_a_position(substituted):
    players = pass_network(index_match(substituted), Selection(team="H")).players.set_index("player")
    assert players.x["H5"] == -30
    assert players.x["H12"] == 30
    assert (players.minutes["H5"], players.minutes["H12"], players.minutes["H10"]) == (60.0, 30.0, 90.0)
    assert players.players["H5"] == ("H5",)


def test_links_are_counted_per_minute_together(substituted):
    links = pass_network(index_match(substituted), Selection(team="H")).links.set_index(["player", "receiver"])
    assert links.minutes_together["H5", "H10"] == 60.0
    assert links.minutes_together["H12", "H10"] == 30.0
    assert links.per_90["H5", "H10"] == pytest.approx(3 / 60 * 90)
    assert links.per_90["H12", "H10"] == pytest.approx(3 / 30 * 90)


def test_by_position_starter_and_substitute_are_one(substituted):
    net = pass_network(index_match(substituted), Selection(team="H"), by="position")
    players = net.players.set_index("player")
    assert players.players["H5"] == ("H5", "H12")
    assert (players.label["H5"], players.name["H5"]) == ("5/12", "H Player 5 / H Player 12")
    assert (players.x["H5"], players.minutes["H5"], players.passes["H5"]) == (0.0, 90.0, 6)
    assert players.players["H9"] == ("H9",)
    assert players.players["H13"] == ("H13",)
    assert players.players["H7"] == ("H7",)
    assert players.players["H14"] == ("H14",)  # a CM for an RCM is another position
    links = net.links.set_index(["player", "receiver"])
    assert (links.passes["H5", "H10"], links.minutes_together["H5", "H10"]) == (6, 90.0)
    assert net.by == "position"


def test_two_of_one_label_at_once_stay_two(make_match, pass_row):
    """H13 (ST) comes for H7 while H10 (ST) stays: two strikers at once, never one dot."""
    rows = [sub(900, "H7", "H13"), pass_row(1000, "H13", "H10", (0, 0), (5, 0), period=2)]
    net = pass_network(index_match(make_match(rows)), Selection(team="H"), by="position")
    assert net.players["player"].tolist() == ["H10", "H13"]


def test_a_substitute_of_two_like_labels_takes_the_place_of_whom_he_replaced(make_match, pass_row):
    from tactical_kit.match import Player, Team

    players = [Player(f"H{i}", f"P{i}", "H", i, "ST") for i in (1, 2)] + [Player("H3", "P3", "H", 3, "ST", False)]
    players.append(Player("H9", "P9", "H", 9, "LW"))
    home = Team("H", "Harbour Town", "", tuple(players))
    rows = [
        pass_row(10, "H2", "H1", (0, 0), (5, 0)),
        dict(kind="card", detail="red", period=1, time_s=100.0, team="H", player="H1"),  # his place is free, too
        sub(900, "H2", "H3"), pass_row(1000, "H3", "H9", (0, 0), (5, 0), period=2),
    ]  # fmt: skip
    net = pass_network(index_match(make_match(rows, home=home)), Selection(team="H"), by="position")
    assert net.players["players"].tolist() == [("H1",), ("H2", "H3"), ("H9",)]


def test_only_who_was_on_the_pitch_in_the_segment(substituted):
    """Half-open: the second half from 15:00 is H12's, the instant before is H5's."""
    index = index_match(substituted)
    late = pass_network(index, Selection(team="H", segment=(2, 900, 2700))).players.set_index("player")
    assert "H5" not in late.index
    assert late.minutes["H12"] == 30.0
    early = pass_network(index, Selection(team="H", segment=[(1, 0, 2700), (2, 0, 900)])).players.set_index("player")
    assert "H12" not in early.index
    assert early.minutes["H5"] == 60.0
    overlapping = pass_network(index, Selection(team="H", segment=[(1, 0, 2000), (1, 1000, 2700)])).players
    assert overlapping["minutes"].max() == 45.0  # no second counts twice


def test_passes_of_who_was_not_there_are_left_out_and_said(make_match, pass_row):
    """H12 is on the bench, H4 is sent off at 100 s: a pass at exactly 100 s is no longer his."""
    rows = [
        pass_row(10, "H12", "H10", (0, 0), (5, 0)),
        pass_row(99, "H4", "H10", (0, 0), (5, 0)),
        dict(kind="card", detail="red", period=1, time_s=100.0, team="H", player="H4"),
        pass_row(100, "H4", "H10", (0, 0), (5, 0)),
        pass_row(2700, "H6", "H10", (0, 0), (5, 0)),  # with the final whistle of the half
    ]
    net = pass_network(index_match(make_match(rows)), Selection(team="H"), few=0)
    assert net.players["player"].tolist() == ["H4", "H6", "H10"]
    assert net.players["minutes"].tolist() == pytest.approx([100 / 60, 90, 90])
    assert net.n == 2
    assert net.note == (
        "2 passes of players who were not on the pitch by the line-up left out; "
        "2 of 2 pairs have fewer than 3 passes and are not drawn"
    )


# -- against plain counting ---------------------------------------------------------------------------


def test_equals_plain_counting(make_match, pass_row):
    rng = np.random.default_rng(5)
    rows = []
    for _ in range(400):
        a, b = rng.choice(np.arange(1, 12), 2, replace=False)
        side = "HA"[rng.integers(2)]
        rows.append(pass_row(
            float(rng.uniform(0, 2700)), f"{side}{a}", f"{side}{b}", rng.uniform([-52, -33], [52, 33]),
            rng.uniform([-52, -33], [52, 33]), period=int(rng.integers(1, 3)), success=bool(rng.random() < 0.8),
        ))  # fmt: skip
    match = make_match(rows)
    net = pass_network(index_match(match), Selection(team="A", segment=(2, 600, 2000)), min_passes=1)
    table = match.attacking_events
    kept = table[(table.team == "A") & (table.period == 2) & (table.time_s >= 600) & (table.time_s < 2000)
                 & table.success.fillna(False).astype(bool)]  # fmt: skip
    pairs = Counter(zip(kept.player, kept.receiver, strict=True))
    assert {(r.player, r.receiver): r.passes for r in net.links.itertuples()} == pairs
    for row in net.players.itertuples():
        xs = [*kept.x[kept.player == row.player], *kept.end_x[kept.receiver == row.player]]
        assert row.x == pytest.approx(np.mean(xs))
        assert row.received == (kept.receiver == row.player).sum()
    assert net.players["pagerank"].sum() == pytest.approx(1)


# -- nothing to show ----------------------------------------------------------------------------------


def test_no_instance_gives_the_same_columns_and_types(triangle, make_match, make_tracking):
    full = pass_network(triangle, Selection(team="H"), min_passes=1)
    tracking = make_tracking({"H10": (0, 0), "A4": (9, 0)}, np.zeros((5, 2)))
    for index, note in [
        (triangle, "no completed pass fits the selection"),
        (index_match(make_match([])), "no completed pass fits the selection"),
        (index_match(make_match(tracking=tracking, events=False)),
         "a pass network needs events; no completed pass fits the selection"),
    ]:  # fmt: skip
        for by in ("player", "position"):
            empty = pass_network(index, Selection(team="H", segment=(1, 2000, 2001)), by=by)
            assert (empty.n, len(empty.players), len(empty.links), empty.note) == (0, 0, 0, note)
            assert empty.players.dtypes.to_dict() == full.players.dtypes.to_dict()
            assert empty.links.dtypes.to_dict() == full.links.dtypes.to_dict()
            assert set(empty.summary) == set(full.summary)


def test_phases_without_phases_are_said(triangle):
    net = pass_network(triangle, Selection(team="H", phases="build-up"))
    assert net.note == (
        "no phases of play were given to the index, so a selection of phases is empty; "
        "no completed pass fits the selection"
    )


def test_phases_without_the_ball_point_to_the_other_side(triangle, make_phases):
    phases = make_phases((1, 0, 100, "A", "high press"), (1, 0, 100, "H", "build-up"))
    index = index_match(triangle.match, phases)
    pressing = Selection(team="A", phases="high press")
    assert pass_network(index, pressing, few=0).note.startswith(
        "the side does not have the ball in these phases; what the opponents do with it meanwhile is "
        "'team=H;against=high_press'"
    )
    assert pass_network(index, pressing.turned(index.match)).n == 6


def test_without_a_side_the_home_side_is_taken(triangle):
    net = pass_network(triangle, few=0, min_passes=1)
    assert (net.team, net.n, net.note) == ("H", 6, "no side was chosen: Harbour Town")


def test_wrong_wishes(triangle):
    with pytest.raises(TacticalKitError) as caught:
        pass_network(triangle, min_passes=0)
    assert str(caught.value) == "min_passes is 0; expected at least 1."
    with pytest.raises(UnknownNameError) as caught:
        pass_network(triangle, by="players")
    assert str(caught.value) == "by is 'players'; expected one of 'player', 'position'. Did you mean 'player'?"
    with pytest.raises(UnknownNameError) as caught:
        pass_network(triangle, Selection(team="Harbor Town"))
    assert str(caught.value) == (
        "team 'Harbor Town' does not play in this match; expected 'Harbour Town' or 'Mill Rovers' (ids 'H', 'A'). "
        "Did you mean 'Harbour Town'?"
    )


def test_a_shoot_out_is_no_playing_time(make_match, pass_row):
    """Two halves of 45 and two of 15 minutes are 120, however long the penalties take (computed)."""
    periods = tuple(Period(i + 1, length, 1) for i, length in enumerate((2700.0, 2700.0, 900.0, 900.0, 300.0)))
    rows = [pass_row(i, "H6", "H10", (0, 0), (10, 5)) for i in range(4)]
    network = pass_network(index_match(make_match(rows, periods=periods)), Selection(team="H"))
    assert network.players["minutes"].tolist() == [120.0, 120.0]
    assert network.links[["passes", "minutes_together", "per_90"]].to_numpy().tolist() == [[4, 120.0, 3.0]]
