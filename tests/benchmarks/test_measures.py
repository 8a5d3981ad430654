"""Speed of the measures on a whole match, beside plain pandas and NumPy.

Run: pytest tests/benchmarks/test_measures.py -m benchmark --benchmark-enable -s
The match is the demonstration match, its events doubled up to 2,500 if it has fewer, or, where there is none, noise
of the same size.  Each line printed gives the median, the limit, and how many times as long the plain version takes.
"""

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tactical_kit.match import Match, Period, Player, Team, Tracking, events_table
from tactical_kit.measures.defending import passes_per_defensive_action
from tactical_kit.measures.holder import ball_holder
from tactical_kit.measures.index import index_match
from tactical_kit.measures.pass_network import pass_network
from tactical_kit.measures.pressure import pressure_map
from tactical_kit.measures.progression import progression_zones
from tactical_kit.measures.selection import Selection, count_conditions
from tactical_kit.phases import find_phases

pytestmark = pytest.mark.benchmark
CHART_S, HOLDER_S, INDEX_S = 0.030, 0.5, 0.5
DEMO = Path(__file__).parents[2] / "demo_data"
FEWEST_EVENTS = 2500


def demo_match():
    folders = sorted(p.parent for p in DEMO.rglob("match.json"))
    if not folders:
        return None
    from tactical_kit.sources import read_match

    return read_match(folders[0])


def noise_match():
    """Two halves of 48 minutes at 25 Hz, 28 players, an event every two seconds; speed does not ask for football."""
    rng = np.random.default_rng(3)
    seconds, rate = 48 * 60, 25
    labels = ["GK", "RB", "RCB", "LCB", "LB", "DM", "RCM", "LCM", "RW", "ST", "LW", "CM", "LB", "ST"]
    sides = [Team(t, f"Side {t}", "", tuple(
        Player(f"{t}{i}", f"{t}{i}", t, i + 1, p, i < 11) for i, p in enumerate(labels))) for t in "ha"]  # fmt: skip
    players = tuple(p.player_id for s in sides for p in s.players)
    frames = 2 * seconds * rate
    knots = np.cumsum(rng.normal(0, 2, (2 * seconds // 2 + 1, 28, 2)), axis=0)
    knots = np.clip(knots - knots.mean(axis=0) + rng.uniform(-30, 30, (28, 2)), (-52, -33), (52, 33))
    at = np.arange(frames) / (2 * rate)
    low = at.astype(int)
    xy = (knots[low] + (at - low)[:, None, None] * (knots[low + 1] - knots[low])).astype(np.float32)
    period = np.repeat([1, 2], frames // 2).astype(np.int8)
    time_s = np.tile(np.arange(frames // 2) / rate, 2)
    late = (period == 2) & (time_s >= 900)
    for base in (0, 14):
        for off, on in ((4, 12), (9, 13), (6, 11)):
            xy[late, base + off] = np.nan
            xy[~late, base + on] = np.nan
    holder = np.repeat(rng.choice([0, 1, 2, 3, 5, 7, 8, 10, 14, 15, 16, 17, 19, 21, 22, 24], frames // 50 + 1), 50)
    ball = np.column_stack([xy[np.arange(frames), holder[:frames]], np.zeros(frames, np.float32)])
    rows = []
    for k in range(0, frames, 50):
        who, following = holder[k], holder[min(k + 50, frames - 1)]
        done = (who < 14) == (following < 14) and who != following
        rows.append(dict(
            period=period[k], time_s=time_s[k], end_s=time_s[k] + 1.5, kind="pass" if k % 3 else "carry",
            team="ha"[who // 14], player=players[who], receiver=players[following], success=bool(done),
            x=xy[k, who, 0], y=xy[k, who, 1], end_x=ball[min(k + 49, frames - 1), 0],
            end_y=ball[min(k + 49, frames - 1), 1],
        ))  # fmt: skip
        if who // 14 != following // 14:
            rows.append(dict(period=period[k], time_s=time_s[k] + 1.5, kind="interception", team="ha"[following // 14],
                             player=players[following], success=True, x=ball[k, 0], y=ball[k, 1]))  # fmt: skip
    for s in sides:
        for off, on in ((4, 12), (9, 13), (6, 11)):
            rows.append(dict(period=2, time_s=900.0, kind="substitution", team=s.team_id, player=f"{s.team_id}{off}",
                             receiver=f"{s.team_id}{on}"))  # fmt: skip
    tracking = Tracking(25.0, period, time_s, players, np.repeat([0, 1], 14).astype(np.int8), xy, ball,
                        (np.arange(frames) % 1500) < 1000)  # fmt: skip
    return Match("noise", *sides, (Period(1, float(seconds), 1), Period(2, float(seconds), -1)),
                 events=events_table(rows), tracking=tracking)  # fmt: skip


@pytest.fixture(scope="module")
def match():
    found = demo_match() or noise_match()
    events = found.events
    if len(events) < FEWEST_EVENTS:
        again = events[events["kind"].isin(["pass", "carry"])]
        again = again.assign(event_id=again["event_id"] + "b", time_s=again["time_s"] + 0.01)
        found = found.with_data(events=events_table(pd.concat([events, again])))
    print(f"\n{found!r}: {len(found.events)} events, {len(found.tracking)} frames")
    return found


@pytest.fixture(scope="module")
def index(match):
    return index_match(match, find_phases(match))


def selections(index):
    """Some of every kind: wide, narrow, by phase, by place, by player, under pressure, empty."""
    someone = index.match.home.players[5].player_id
    return [
        Selection(team="home"), Selection(team="away"), Selection(), Selection(team="home", segment=(1, 0, 1350)),
        Selection(team="home", phases={"build-up", "progression"}),
        Selection(team="away", opponent_phases={"mid-block", "high press"}, score_states={"level", "trailing"}),
        Selection(team="home", phases="high press"), Selection(team="home", under_pressure=True),
        Selection(team="home", players=someone), Selection(team="away", area=(-20, -20, 20, 20)),
        Selection(team="home", zones={"middle third, centre", "final third, centre"}, segment=[(1, 0, 900), (2, 0, 900)]),
        Selection(team="home", segment=(1, 1, 1.001)),
    ]  # fmt: skip


def median_of(function, rounds=5):
    took = []
    for _ in range(rounds):
        started = time.perf_counter()
        function()
        took.append(time.perf_counter() - started)
    return float(np.median(took))


def worst_selection(measure, index):
    """The selection that takes longest, and its median time."""
    timed = [(median_of(lambda s=s: measure(index, s)), s.to_text(), s) for s in selections(index)]
    return max(timed, key=lambda t: t[0])


def say(name, seconds, limit_s, plain_s):
    print(f"{name}: {seconds * 1e3:.1f} ms (limit {limit_s * 1e3:.0f} ms); plain version {plain_s * 1e3:.0f} ms, "
          f"{plain_s / seconds:.1f} times as long")  # fmt: skip


# -- the same in plain pandas and NumPy ---------------------------------------------------------------


def asked(match, team="home"):
    events = match.events
    sign = [match.attack_sign(t, p) if t else 1 for t, p in zip(events["team"], events["period"], strict=True)]
    turned = events.assign(**{c: events[c] * sign for c in ("x", "y", "end_x", "end_y")})
    return turned[turned["team"] == match.team(team).team_id]


def plain_network(match):
    import networkx as nx

    passes = asked(match)
    passes = passes[(passes["kind"] == "pass") & passes["success"].fillna(False)]
    places = pd.concat([
        passes[["player", "x", "y"]],
        passes[["receiver", "end_x", "end_y"]].set_axis(["player", "x", "y"], axis=1),
    ]).groupby("player").mean()  # fmt: skip
    links = passes.groupby(["player", "receiver"]).size().reset_index(name="weight")
    links["length"] = 1 / links["weight"]
    graph = nx.from_pandas_edgelist(links, "player", "receiver", ["weight", "length"], create_using=nx.DiGraph)
    return (
        places,
        nx.betweenness_centrality(graph, weight="length"),
        nx.pagerank(graph),
        nx.clustering(graph, weight="weight"),
    )


def plain_progression(match):
    moves = asked(match)
    moves = moves[((moves["kind"] == "pass") & moves["success"].fillna(False)) | (moves["kind"] == "carry")].copy()
    grid = match.pitch.named_zones()
    moves["zone"] = [int(grid.zone_of(x, y)) for x, y in zip(moves["x"], moves["y"], strict=True)]
    moves["to"] = [int(grid.zone_of(x, y)) for x, y in zip(moves["end_x"], moves["end_y"], strict=True)]
    moves["gain"] = moves["end_x"] - moves["x"]
    up = moves[moves["gain"] > 0]
    return up.pivot_table(index="zone", columns="kind", values="gain", aggfunc="sum"), up.groupby(["zone", "to"]).size()


def plain_pressure(match, index):
    """Frame by frame for the frames of the index; 300 of them, scaled up."""
    tracking, f = match.tracking, index.frames
    grid = match.pitch.grid(12, 8)
    on_ball = np.flatnonzero((f.holder >= 0) & (f.team == 0))
    some = on_ball[:: max(len(on_ball) // 300, 1)]
    started, rows = time.perf_counter(), []
    for i in some:
        frame, who = f.frame[i], f.holder[i]
        sign = match.attack_sign(match.home.team_id, int(f.period[i]))
        away = tracking.xy[frame, tracking.team_index == 1] - tracking.xy[frame, who]
        goal = np.array([sign * match.pitch.half_length, 0.0]) - tracking.xy[frame, who]
        distance = np.linalg.norm(away, axis=1)
        cosine = away @ goal / np.maximum(distance * np.linalg.norm(goal), 1e-9)
        z = (1 + cosine) / 2
        limit = 3 + 6 * (z**3 + 0.3 * z) / 1.3
        each = 100 * np.clip(1 - distance / limit, 0, None) ** 1.75
        rows.append((int(grid.zone_of(f.x[i], f.y[i])), np.nansum(each)))
    pd.DataFrame(rows, columns=["zone", "pressure"]).groupby("zone")["pressure"].mean()
    return (time.perf_counter() - started) * len(on_ball) / len(some)


def plain_holder(match):
    """Nearest player frame by frame; 3,000 frames, scaled up."""
    tracking = match.tracking
    some = range(0, len(tracking), max(len(tracking) // 3000, 1))
    started = time.perf_counter()
    for i in some:
        distance = np.linalg.norm(tracking.xy[i] - tracking.ball[i, :2], axis=1)
        if np.isfinite(distance).any():
            nearest = int(np.nanargmin(distance))
            _ = nearest if distance[nearest] <= 1.2 else -1
    return (time.perf_counter() - started) * len(tracking) / len(some)


# -- measured -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("source", ["events and tracking", "tracking"])
def test_holder(benchmark, match, source):
    asked_of = match if source != "tracking" else match.with_data(events=None)
    _ = asked_of.tracking.ball_velocity  # computed once for a match, whoever asks first
    benchmark.pedantic(ball_holder, (asked_of,), rounds=5, warmup_rounds=1)
    say(f"holder from {source}", benchmark.stats.stats.median, HOLDER_S, plain_holder(match))
    assert benchmark.stats.stats.median <= HOLDER_S


def test_index(benchmark, match):
    phases = find_phases(match)
    benchmark.pedantic(index_match, (match, phases), rounds=5, warmup_rounds=1)
    # In plain NumPy: the holder of every frame and the pressure on the holders of both sides.
    plain = plain_holder(match) + 2 * plain_pressure(match, index_match(match, phases))
    say("index of the whole match", benchmark.stats.stats.median, INDEX_S, plain)
    assert benchmark.stats.stats.median <= INDEX_S


@pytest.mark.parametrize("by", ["player", "position"])
def test_pass_network(benchmark, match, index, by):
    def ask(index, selection):
        return pass_network(index, selection, by=by)

    _, text, worst = worst_selection(ask, index)
    benchmark.pedantic(ask, (index, worst), rounds=20, warmup_rounds=2)
    plain_network(match)
    say(f"pass network by {by}, slowest at {text}", benchmark.stats.stats.median, CHART_S,
        median_of(lambda: plain_network(match), 3))  # fmt: skip
    assert benchmark.stats.stats.median <= CHART_S


def test_progression(benchmark, match, index):
    _, text, worst = worst_selection(progression_zones, index)
    benchmark.pedantic(progression_zones, (index, worst), rounds=20, warmup_rounds=2)
    plain = median_of(lambda: plain_progression(match), 3)
    say(f"progression zones, slowest at {text}", benchmark.stats.stats.median, CHART_S, plain)
    assert benchmark.stats.stats.median <= CHART_S


def test_pressure(benchmark, match, index):
    _, text, worst = worst_selection(pressure_map, index)
    benchmark.pedantic(pressure_map, (index, worst), rounds=20, warmup_rounds=2)
    # The plain version works out the pressure each time; the index holds it.
    say(f"pressure map, slowest at {text}", benchmark.stats.stats.median, CHART_S, plain_pressure(match, index))
    assert benchmark.stats.stats.median <= CHART_S


@pytest.mark.parametrize("measure", [passes_per_defensive_action, count_conditions], ids=["per action", "counts"])
def test_words_beside_the_charts(benchmark, index, measure):
    _, text, worst = worst_selection(measure, index)
    benchmark.pedantic(measure, (index, worst), rounds=20, warmup_rounds=2)
    print(f"{measure.__name__}, slowest at {text}: {benchmark.stats.stats.median * 1e3:.1f} ms")
    assert benchmark.stats.stats.median <= CHART_S


def test_all_three_charts(benchmark, index):
    def everything():
        for s in selections(index):
            pass_network(index, s)
            progression_zones(index, s)
            pressure_map(index, s)

    benchmark.pedantic(everything, rounds=5, warmup_rounds=1)
    each = benchmark.stats.stats.median / len(selections(index))
    print(f"the numbers of all three charts, mean over selections: {each * 1e3:.1f} ms")
    assert each <= 3 * CHART_S
