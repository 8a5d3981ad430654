"""The road to a goal as pictures."""

import hashlib
import re

import numpy as np
import pytest

import tactical_kit as tk
from tactical_kit.errors import TacticalKitError
from tactical_kit.finders.roads_to_goal import find_roads_to_goal, road_steps
from tactical_kit.scenes import Arrow, Ball, Disc, Label, Line
from tactical_kit.scenes.road import show_road


@pytest.fixture(scope="module")
def demo():
    return tk.demo_match()


@pytest.fixture(scope="module")
def road(demo):
    """The longest road to a goal."""
    goals = find_roads_to_goal(demo).where(outcome="goal").table
    return goals.loc[goals["steps"].idxmax()]


@pytest.fixture(scope="module")
def scenes(demo, road):
    return show_road(demo, road)


def told(step):
    """What a pass or carry beat stands below the picture, all else in the title."""
    return step.words.split(", ") if step.what in ("pass", "carry") else [step.words]


def test_one_picture_a_step_with_its_words(demo, road, scenes):
    steps = road_steps(demo, road)
    assert len(scenes) == len(steps) == road["steps"]
    for i, (scene, step) in enumerate(zip(scenes, steps.itertuples()), 1):
        clock = demo.clock.label(int(step.period), step.time_s)
        assert scene.title == f"{clock}, step {i} of {len(steps)}: {told(step)[0]}"
        assert scene.subtitle.endswith(f"to the goal at {demo.clock.label(int(road['period']), road['shot_s'])}")
        assert scene.source == "invented demonstration data" and "attack\u00a0→" in scene.attacking
    assert scenes[-1].title.endswith("shoots, goal") and tk.show_road(demo, road["moment_id"]) == scenes


def test_the_way_of_the_ball_grows_step_by_step(demo, road, scenes):
    steps = road_steps(demo, road)
    for i, scene in enumerate(scenes):
        way = [a for a in scene.of(Arrow) if a.key.startswith("step ")]
        long = steps.iloc[: i + 1]
        far = np.hypot(long["end_x"] - long["x"], long["end_y"] - long["y"])
        drawn = long[(far >= 0.5) & long["what"].isin(["pass", "carry", "shot"])]
        assert [a.key for a in way] == [f"step {n}" for n in drawn["step"]]
        for arrow, step in zip(way, drawn.itertuples()):
            assert (arrow.x0, arrow.y0, arrow.x1, arrow.y1) == (step.x, step.y, step.end_x, step.end_y)
            assert arrow.style == ("dribble" if step.what == "carry" else "pass")
            assert arrow.strength == (1.0 if step.step == i + 1 else 0.45)


def test_everybody_stands_where_he_stood(demo, road, scenes):
    steps = road_steps(demo, road)
    sign = demo.attack_sign(road["team"], int(road["period"]))
    for scene, step in zip(scenes, steps.itertuples()):
        snapshot = demo.snapshot(int(step.period), step.time_s)
        discs = {d.key: d for d in scene.of(Disc)}
        assert set(discs) == set(snapshot.players) and len(scene.of(Ball)) == 1
        for player, place in zip(snapshot.players, snapshot.xy * sign):
            assert (discs[player].x, discs[player].y) == pytest.approx(tuple(place))
        picked = {step.player, step.receiver} - {""}
        assert {p for p, d in discs.items() if d.picked} == picked
        assert {d.key for d in scene.of(Disc)[-len(picked) :]} == picked  # on top of whoever stands there too


def test_the_nearest_opponent_is_drawn_where_there_is_room(demo, road, scenes):
    """At least 4.5 m: below, the discs all but touch and the caption alone says it."""
    met = set()
    for scene, step in zip(scenes, road_steps(demo, road).itertuples()):
        dotted = [m for m in scene.of(Line) if m.style == "dotted"]
        met.add(bool(dotted))
        assert bool(dotted) == (step.space_m >= 4.5)
        assert f"nearest opponent {step.space_m:.1f} m" in scene.caption.lower()
        if dotted:
            (x0, y0), (x1, y1) = dotted[0].points
            assert np.hypot(x1 - x0, y1 - y0) == pytest.approx(step.space_m, abs=1e-3)
            assert [m.text for m in scene.of(Label)][-1] == f"{step.space_m:.0f} m"
    assert met == {True, False}


def test_numbers_and_what_was_beaten_stand_below(demo, road, scenes):
    for scene, step in zip(scenes, road_steps(demo, road).itertuples()):
        assert f"evel with the ball or ahead of it {step.n_attack:.0f} against {step.n_defend:.0f}" in scene.caption
        for part in told(step)[1:]:
            assert part.lower() in scene.caption.lower()


def test_the_run_of_a_receiver(demo):
    """Every dashed arrow goes from where the receiver was to where he got the ball, at least 2 m away."""
    seen = 0
    for row in list(find_roads_to_goal(demo))[:8]:
        for scene, step in zip(show_road(demo, row), road_steps(demo, row).itertuples()):
            for run in (a for a in scene.of(Arrow) if a.style == "run"):
                seen += 1
                assert run.key == step.receiver and np.hypot(run.x1 - run.x0, run.y1 - run.y0) >= 2.0
                there = next(d for d in scene.of(Disc) if d.key == step.receiver)
                assert (run.x0, run.y0) == pytest.approx((there.x, there.y), abs=1e-3)
    assert seen > 5
    assert not [
        a for s in show_road(demo, "road to goal-001", least_run_m=1e3) for a in s.of(Arrow) if a.style == "run"
    ]


def test_events_alone_show_who_had_a_part(demo, road):
    bare = demo.with_data(tracking=None)
    scenes = show_road(bare, road["moment_id"])
    steps = road_steps(bare, road["moment_id"])
    for scene, step in zip(scenes, steps.itertuples()):
        assert {d.key for d in scene.of(Disc)} <= {step.player, step.receiver}
        assert scene.caption.endswith("ther players not in the data.")
    assert any(len(s.of(Disc)) == 2 for s in scenes)


def test_it_prints_the_same_to_the_byte(scenes, tmp_path):
    digests = [hashlib.sha256(scenes[1].save(tmp_path / name).read_bytes()).hexdigest() for name in ("a.png", "b.png")]
    assert digests[0] == digests[1]


def test_a_moment_of_another_kind_is_refused(demo):
    said = "'goal 1' is no road to goal of this match; there are 24, from 'road to goal-001' on."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(said)}$"):
        show_road(demo, "goal 1")
