"""Selections: masks against plain pandas, text there and back, words.  Common practice, no source."""

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tactical_kit.errors import MissingDataError, TacticalKitError, UnknownNameError
from tactical_kit.measures.index import index_match
from tactical_kit.measures.selection import Selection, count_conditions, describe_gaps
from tactical_kit.measures.words import PHASES, SCORE_STATES
from tactical_kit.pitch import Pitch

ZONES = Pitch().named_zones().names()
finite = st.floats(-1e6, 1e6)


@pytest.fixture(scope="module")
def rows():
    """240 actions of both sides over both halves, two goals, drawn with a seed."""
    rng = np.random.default_rng(8)
    result = []
    for i in range(240):
        team = "HA"[rng.integers(2)]
        start, end = rng.uniform([-52, -33], [52, 33]), rng.uniform([-52, -33], [52, 33])
        kind = str(rng.choice(["pass", "pass", "pass", "carry", "tackle", "interception", "take-on"]))
        done = bool(rng.random() < 0.8) if kind == "pass" else None
        result.append(dict(
            kind=kind, period=1 + i // 120, time_s=20.0 * (i % 120), team=team, player=f"{team}{rng.integers(1, 12)}",
            receiver=f"{team if done else 'HA'[team == 'H']}{rng.integers(1, 12)}" if kind == "pass" else "",
            success=done, x=start[0], y=start[1], end_x=end[0], end_y=end[1],
        ))  # fmt: skip
    goal = dict(kind="shot", team="H", player="H10", outcome="goal", success=True, x=45, y=0)
    return [*result, goal | dict(period=1, time_s=1210.0), goal | dict(period=2, time_s=905.0, team="A", player="A9")]


@pytest.fixture(scope="module")
def match(rows):
    from tactical_kit.match import Match, Tracking, events_table

    home, away, halves = SQUADS
    rng = np.random.default_rng(1)
    frames = 960
    players = tuple(f"{t}{i}" for t in "HA" for i in range(1, 12))
    tracking = Tracking(
        1 / 5, np.repeat([1, 2], frames // 2).astype(np.int8), np.tile(np.arange(frames // 2) * 5.0, 2), players,
        np.repeat([0, 1], 11).astype(np.int8), rng.uniform(-30, 30, (frames, 22, 2)).astype(np.float32),
        rng.uniform(-30, 30, (frames, 3)).astype(np.float32) * [1, 1, 0], rng.random(frames) < 0.9,
    )  # fmt: skip
    return Match("seeded", home, away, halves, events=events_table(rows), tracking=tracking)


def _squads():
    from tactical_kit.match import Period, Player, Team

    sides = [
        Team(t, n, "", tuple(Player(f"{t}{i}", f"{n} {i}", t, i, "") for i in range(1, 12)))
        for t, n in (("H", "Harbour Town"), ("A", "Mill Rovers"))
    ]
    return sides[0], sides[1], (Period(1, 2700.0, 1), Period(2, 2700.0, -1))


SQUADS = _squads()


@pytest.fixture(scope="module")
def index(match):
    import pandas as pd

    from tactical_kit.moments import Moments

    spans = pd.DataFrame(
        [
            dict(period=p, start_s=s, end_s=s + 90.0, team=t, players=(), phase=PHASES[(k + 3 * (t == "A")) % 10])
            for p in (1, 2) for k, s in enumerate(np.arange(0.0, 2700.0, 100.0)) for t in "HA"
        ]
    )  # fmt: skip
    return index_match(match, Moments.build("phase", spans, {"phase": "str"}))


selections = st.builds(
    Selection,
    team=st.sampled_from([None, "H", "away", "Mill Rovers"]),
    segment=st.one_of(
        st.none(),
        st.lists(
            st.tuples(st.sampled_from([1, 2]), st.floats(0, 2000), st.floats(1, 900)).map(
                lambda s: (s[0], s[1], s[1] + s[2])
            ), min_size=1, max_size=3,
        ),
    ),
    phases=st.frozensets(st.sampled_from(PHASES), max_size=3),
    opponent_phases=st.frozensets(st.sampled_from(PHASES), max_size=3),
    zones=st.frozensets(st.sampled_from(ZONES), max_size=4),
    area=st.one_of(st.none(), st.tuples(*[st.floats(-53, 53)] * 4)),
    players=st.frozensets(st.sampled_from(["H1", "H10", "A4", "Mill Rovers 9"]), max_size=2),
    score_states=st.frozensets(st.sampled_from(SCORE_STATES), max_size=2),
    under_pressure=st.sampled_from([None, True, False]),
)  # fmt: skip
any_text = st.text(max_size=20)
odd_selections = st.builds(
    Selection,
    team=st.one_of(st.none(), any_text),
    segment=st.one_of(
        st.none(),
        st.lists(st.tuples(st.integers(1, 5), finite, st.one_of(st.just(math.inf), st.floats(1e6 + 1, 1e9)))),
    ),
    phases=st.frozensets(any_text, max_size=3),
    opponent_phases=st.frozensets(any_text, max_size=3),
    zones=st.frozensets(any_text, max_size=3),
    area=st.one_of(st.none(), st.tuples(finite, finite, finite, finite)),
    players=st.frozensets(any_text, max_size=4),
    score_states=st.frozensets(st.sampled_from(SCORE_STATES)),
    under_pressure=st.sampled_from([None, True, False]),
    pressure_pct=st.floats(0, 200),
)


# -- text ---------------------------------------------------------------------------------------------


@settings(deadline=None, derandomize=True)
@given(odd_selections)
def test_text_there_and_back(selection):
    text = selection.to_text()
    assert Selection.from_text(text) == selection
    assert hash(Selection.from_text(text)) == hash(selection)
    assert re.fullmatch(r"[A-Za-z0-9%_.~,:;=+\-]*", text)


def test_text_is_short_and_plain():
    selection = Selection(
        team="home", segment=[(2, 0, 600.5), (1, 0, 900)], phases="build-up", opponent_phases=["high press"],
        zones={"final third, left half-space"}, area=(30, 10, -5, -10), players={"h06", "h10"}, score_states="level",
        under_pressure=True,
    )  # fmt: skip
    assert selection.to_text() == (
        "team=home;phase=build-up;time=1:0:900+2:0:600.5;against=high_press;score=level;"
        "zone=final_third,_left_half-space;area=-5:-10:30:10;pressure=yes;player=h06+h10"
    )
    assert Selection().to_text() == "all"
    assert Selection.from_text("all") == Selection.from_text("  ") == Selection()
    assert Selection(under_pressure=False, pressure_pct=50).to_text() == "pressure=no;threshold=50"


def test_names_with_odd_characters_survive():
    names = {"O'Neil; the 2nd", "a+b=c", "<b>x</b>", "Ætla_ñ", "50%", "=1+1", " lead", "", "\n", "日本"}
    selection = Selection(team="a;b=c", players=names)
    assert Selection.from_text(selection.to_text()) == selection


def test_all_faults_of_a_text_are_reported_together():
    with pytest.raises(TacticalKitError) as caught:
        Selection.from_text("tem=x;foo;team=a;team=b;area=1:2;pressure=maybe;time=1:2;score=winning")
    keys = "team, phase, time, against, score, zone, area, pressure, player, threshold"
    assert str(caught.value) == (
        "selection 'tem=x;foo;team=a;team=b;area=1:2;pressure=maybe;time=1:2;score=winning' cannot be read: "
        f"'tem=x': expected key=value with a key of {keys}. Did you mean 'team'?; "
        f"'foo': expected key=value with a key of {keys}.; 'team' stands twice; "
        "'area=1:2': area ['1', '2']; expected four numbers x0, y0, x1, y1 in metres.; "
        "'pressure=maybe': pressure is 'maybe'; expected one of 'yes', 'no'.; "
        "'time=1:2': segment ['1', '2']; expected (period, start_s, end_s).; "
        "'score=winning': score state is 'winning'; expected one of 'leading', 'level', 'trailing'."
    )


# -- building -----------------------------------------------------------------------------------------


def test_it_is_a_value():
    one = Selection(team="H", phases=["build-up", "progression"], segment=(1, 0, 10))
    other = Selection(team="H", phases=("progression", "build-up"), segment=[[1, 0.0, 10.0]])
    assert one == other
    assert len({one, other}) == 1
    assert one.replace(phases=()) != one
    assert one.replace(segment=None).active == ("team", "phases")
    with pytest.raises(UnknownNameError) as caught:
        one.replace(phase="build-up")
    assert str(caught.value) == (
        "a selection has no 'phase'; expected team, segment, phases, opponent_phases, zones, area, players, "
        "score_states, under_pressure, pressure_pct. Did you mean 'phases'?"
    )


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        (dict(segment=(1, 10, 10)), "segment from 10 to 10 s; expected the end after the start."),
        (dict(segment=(1, 10, 5)), "segment from 10 to 5 s; expected the end after the start."),
        (dict(segment=(6, 0, 5)), "period 6 in a segment; expected 1 to 5."),
        (dict(segment=(1.5, 0, 5)), "period 1.5 in a segment; expected 1 to 5."),
        (dict(segment=(1, math.nan, 5)), "start_s is nan; expected a finite number."),
        (dict(segment=(1, "a", 5)), "start_s is 'a'; expected a number."),
        (dict(segment=[(1, 5)]), "segment (1, 5); expected (period, start_s, end_s)."),
        (dict(area=(1, 2, 3)), "area (1, 2, 3); expected four numbers x0, y0, x1, y1 in metres."),
        (dict(area=(1, 2, 3, math.inf)), "area is inf; expected a finite number."),
        (dict(score_states="ahead"),
         "score state is 'ahead'; expected one of 'leading', 'level', 'trailing'."),
        (dict(pressure_pct="much"), "pressure_pct is 'much'; expected a number."),
    ],
)  # fmt: skip
def test_values_that_make_no_sense(fields, message):
    with pytest.raises(TacticalKitError) as caught:
        Selection(**fields)
    assert str(caught.value) == message


# -- words --------------------------------------------------------------------------------------------


def test_words(match):
    selection = Selection(
        team="H", phases="build-up", segment=(1, 0, 1800), opponent_phases="high press", score_states="level",
        under_pressure=True, players="H6",
    )  # fmt: skip
    assert selection.words(match) == (
        "Harbour Town in build-up, first half 00:00-30:00, against a high press, level, under pressure, "
        "through Harbour Town 6"
    )
    assert Selection().words(match) == "both sides, the whole match"
    beyond = Selection(segment=(1, 2800, 2900))  # the half lasts 2700 s
    assert beyond.words(match) == "both sides, first half 45+1:40-45+3:20"
    for pressed, said in ((True, "under pressure (at least 60 %)"), (False, "not under pressure (less than 60 %)")):
        assert Selection(under_pressure=pressed, pressure_pct=60).words(match) == f"both sides, {said}"
    assert Selection(team="away").words(match) == "Mill Rovers, the whole match"
    assert Selection(segment=(2, 0, math.inf)).words(match) == "both sides, second half"
    assert Selection(segment=[(1, 600, 9999), (2, 0, 60)]).words(match) == (
        "both sides, first half 10:00-45+0:00 and second half 45:00-46:00"
    )
    assert Selection(phases=["low block", "mid-block"], team="H").words(match) == (
        "Harbour Town in a mid-block or a low block"
    )
    assert Selection(opponent_phases=["attacking transition", "build-up", "set play"]).words(match) == (
        "both sides, against build-up, an attacking transition or a set play"
    )
    assert Selection(zones="middle third, centre", under_pressure=False).words(match) == (
        "both sides, from middle third, centre, not under pressure"
    )
    assert Selection(area=(0, -10, 20, 10)).words(match) == (
        "both sides, from the area x 0.0 to 20.0 m, y -10.0 to 10.0 m"
    )


# -- against a match ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        (dict(team="Mill Rover"), "team 'Mill Rover' does not play in this match; expected 'Harbour Town' or 'Mill "
         "Rovers' (ids 'H', 'A'). Did you mean 'Mill Rovers'?"),
        (dict(players="Harbour Town 99"),
         "player 'Harbour Town 99' is in neither squad. Did you mean 'Harbour Town 9'?"),
        (dict(phases="built-up"), "phase is 'built-up'; expected one of " + ", ".join(map(repr, PHASES)) +
         ". Did you mean 'build-up'?"),
        (dict(opponent_phases="hi press"), "phase is 'hi press'; expected one of " + ", ".join(map(repr, PHASES)) +
         ". Did you mean 'high press'?"),
        (dict(zones="final third, middle"), "zone is 'final third, middle'; expected one of " +
         ", ".join(map(repr, ZONES)) + ". Did you mean 'final third, right wing'?"),
        (dict(segment=(3, 0, 10)), "period 3 was not played; this match has 1, 2."),
    ],
)  # fmt: skip
def test_unknown_names(match, index, fields, message):
    selection = Selection(**fields)
    for ask in (lambda: selection.check(match), lambda: count_conditions(index, selection)):
        with pytest.raises(TacticalKitError) as caught:
            ask()
        if "zones" in fields:  # which near name is offered is difflib's business
            assert str(caught.value).startswith(message.split(" Did you mean")[0])
        else:
            assert str(caught.value) == message


def test_what_the_data_cannot_answer_is_refused(match):
    bare = match.with_data(tracking=None)
    with pytest.raises(MissingDataError) as caught:
        Selection(under_pressure=True).check(bare)
    assert str(caught.value) == (
        "Pressure on the player on the ball needs tracking; this match has events. Drop this condition to use the "
        "events alone."
    )
    with pytest.raises(MissingDataError) as caught:
        Selection(score_states="level").check(match.with_data(events=None))
    assert str(caught.value) == "The state of the score needs events; this match has tracking."
    assert Selection(under_pressure=True).check(match) == Selection(under_pressure=True)
    assert not Selection(under_pressure=True).action_mask(index_match(bare)).any()
    assert not Selection(under_pressure=False).action_mask(index_match(bare)).any()


# -- masks --------------------------------------------------------------------------------------------


def plain_mask(index, s):
    """The same question asked of the table, row by row."""
    match, keep = index.match, []
    for row in index.actions.itertuples():
        side = match.team(s.team).team_id if s.team else None
        fits = side is None or row.team == side
        if s.segment:
            fits &= any(row.period == p and a <= row.time_s < b for p, a, b in s.segment)
        if s.phases:
            fits &= row.phase in s.phases
        if s.opponent_phases:
            fits &= row.opponent_phase in s.opponent_phases
        if s.score_states:
            fits &= row.score_state in s.score_states
        if s.zones:
            fits &= row.zone >= 0 and index.zones.name(row.zone) in s.zones
        if s.area:
            x0, y0, x1, y1 = s.area
            fits &= x0 <= row.x <= x1 and y0 <= row.y <= y1
        if s.players:
            ids = {match.player(p).player_id for p in s.players}
            fits &= row.player in ids or (row.receiver in ids and row.success is not False and row.success != 0)
        if s.under_pressure is not None:
            fits &= (row.pressure >= s.pressure_pct) if s.under_pressure else (row.pressure < s.pressure_pct)
        keep.append(bool(fits))
    return np.array(keep)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(selections)
def test_masks_equal_a_plain_loop(index, selection):
    assert selection.action_mask(index).tolist() == plain_mask(index, selection).tolist()


@settings(max_examples=80, deadline=None, derandomize=True)
@given(selections, selections)
def test_adding_a_condition_never_adds_instances(index, base, other):
    for name in other.active:
        if name in base.active:
            continue
        more = base.replace(**{name: getattr(other, name)})
        assert not (more.action_mask(index) & ~base.action_mask(index)).any()
        own = base.has_ball  # phases may turn the question round: the other side then has the ball
        assert not (more.frame_mask(index, own) & ~base.frame_mask(index, own)).any()
        # A conjunction: the mask with both is the overlap of the masks with each.
        alone = Selection(**{name: getattr(other, name)})
        assert (more.action_mask(index) == (base.action_mask(index) & alone.action_mask(index))).all()


@settings(max_examples=40, deadline=None, derandomize=True)
@given(selections)
def test_opponents_are_the_same_question_from_the_other_bench(index, selection):
    """What the other side did meanwhile: the mirrored selection asked of the other side."""
    frames = selection.frame_mask(index, with_ball=False)
    assert (frames == selection.turned(index.match).frame_mask(index, with_ball=True)).all()
    selection = selection.replace(players=(), under_pressure=None)
    turned = selection.turned(index.match)
    assert (selection.action_mask(index, "opponent") == turned.action_mask(index)).all()
    sides = {None: None, "H": "H", "away": "A", "Mill Rovers": "A"}
    assert turned.turned(index.match) == selection.replace(team=sides[selection.team])


def test_turned_by_hand(match):
    pressing = Selection(team="A", phases="high press", zones="final third, left wing", area=(20, -5, 40, 10),
                         score_states="leading", segment=(1, 0, 9), players="H4", under_pressure=True)  # fmt: skip
    assert pressing.turned(match) == Selection(
        team="H", opponent_phases="high press", zones="own third, right wing", area=(-40, -10, -20, 5),
        score_states="trailing", segment=(1, 0, 9), players="H4", under_pressure=True,
    )  # fmt: skip


def test_the_score_is_told_from_the_selections_bench(index):
    """While H leads, what A does is done trailing: the opponents' mask turns the score."""
    assert not Selection(team="H", score_states="trailing").action_mask(index, "opponent").any()  # H never trails
    ahead = Selection(team="H", score_states="leading").action_mask(index, "opponent")
    assert set(index.actions["score_state"][ahead]) == {"trailing"}
    assert set(index.actions["team"][ahead]) == {"A"}


def test_edges_of_a_segment_are_half_open(make_match):
    rows = [dict(kind="pass", period=1, time_s=t, team="H", player="H1") for t in (9.99, 10.0, 19.99, 20.0)]
    index = index_match(make_match(rows))
    assert Selection(segment=(1, 10, 20)).action_mask(index).tolist() == [False, True, True, False]
    joined = Selection(segment=[(1, 0, 10), (1, 10, 30)]).action_mask(index)
    assert joined.all()


def test_edges_of_zones_and_areas(make_match):
    """A point on a limit belongs to the higher zone; an area has its borders; the third begins at x = 17.5 (105 / 6, computed)."""
    rows = [dict(kind="pass", period=1, time_s=i, team="H", player="H1", x=x, y=0.0)
            for i, x in enumerate((17.49, 17.5, 52.5, np.nan))]  # fmt: skip
    index = index_match(make_match(rows))
    assert Selection(zones="final third, centre").action_mask(index).tolist() == [False, True, True, False]
    assert Selection(area=(17.5, 0, 52.5, 0)).action_mask(index).tolist() == [False, True, True, False]


def test_a_player_counts_as_receiver_of_what_reached_him(make_match, pass_row):
    rows = [
        pass_row(1, "H6", "H10", (0, 0), (5, 0)), pass_row(2, "H10", "H6", (0, 0), (5, 0)),
        pass_row(3, "H10", "A6", (0, 0), (5, 0), success=False), pass_row(4, "H9", "H7", (0, 0), (5, 0)),
    ]  # fmt: skip
    index = index_match(make_match(rows))
    assert Selection(players="H6").action_mask(index).tolist() == [True, True, False, False]
    assert Selection(players="A6").action_mask(index).tolist() == [False] * 4
    assert Selection(players="H Player 6").action_mask(index).tolist() == [True, True, False, False]


def test_pressure_exactly_on_the_threshold(index):
    value = float(np.nanmax(index.actions["pressure"]))
    on_edge = Selection(under_pressure=True, pressure_pct=value).action_mask(index)
    assert on_edge.sum() == 1
    below = Selection(under_pressure=False, pressure_pct=value).action_mask(index)
    assert (on_edge | below).sum() == np.isfinite(index.actions["pressure"]).sum()


def test_frames_out_of_possession(index):
    """Only phases without the ball: the frames are those in which the opponents have it."""
    pressing = Selection(team="H", phases={"high press", "mid-block"})
    assert not pressing.has_ball
    mask = pressing.frame_mask(index)
    assert (index.frames.team[mask] == 1).all()
    names = np.array([*index.phase_names, ""], object)
    assert set(names[index.frames.phase[mask, 0]]) <= {"high press", "mid-block"}
    wanted = np.isin(names[index.frames.phase[:, 0]], ["high press", "mid-block"]) & (index.frames.team == 1)
    assert (mask == wanted).all()
    assert mask.any()


# -- counting -----------------------------------------------------------------------------------------


def test_counting_conditions(index):
    selection = Selection(team="H", segment=(1, 0, 1350), phases=["build-up", "progression"], score_states="level")
    table = count_conditions(index, selection)
    on_ball = index.actions["kind"].isin(["pass", "carry", "shot", "take-on", "touch", "clearance"]).to_numpy()
    assert table["field"].tolist() == ["", "team", "phases", "segment", "score_states"]
    assert table["condition"].tolist() == [
        "the whole match", "Harbour Town", "in build-up or progression", "first half 00:00-22:30", "level",
    ]  # fmt: skip
    added = [Selection(), Selection(team="H")]
    added.append(added[-1].replace(phases=selection.phases))
    added.append(added[-1].replace(segment=selection.segment))
    added.append(selection)
    assert table["left"].tolist() == [int((s.action_mask(index) & on_ball).sum()) for s in added]
    empty = Selection()
    dropped = [selection.replace(**{name: getattr(empty, name)}) for name in table["field"][1:]]
    assert table["without"].tolist()[1:] == [int((s.action_mask(index) & on_ball).sum()) for s in dropped]
    assert table["without"][0] == table["left"].iloc[-1]
    seconds = index.frames.frame_s
    assert table["seconds_left"].tolist() == [s.frame_mask(index).sum() * seconds for s in added]
    assert table["left"].is_monotonic_decreasing


def test_counting_nothing(match):
    table = count_conditions(index_match(match.with_data(tracking=None)), Selection(phases="build-up"))
    assert table["left"].tolist() == [
        len(match.events[match.events["kind"].isin(["pass", "carry", "shot", "take-on"])]),
        0,
    ]
    assert table["seconds_left"].isna().all()
    nothing = count_conditions(index_match(match.with_data(events=None, tracking=None)), Selection(team="H"))
    assert nothing["left"].tolist() == [0, 0]
    assert nothing.dtypes.astype(str).tolist() == ["str", "str", "int64", "int64", "float64", "float64"]


def test_what_is_taken_from_behind_a_line_lies_in_the_zone_there(make_match, pass_row):
    rows = [pass_row(1, "H5", "H10", (-20, 34.0000000008), (-10, 20)), pass_row(2, "H5", "H10", (-20, 37.5), (0, 0))]
    index = index_match(make_match(rows))
    for chosen in (Selection(zones="own third, left wing"), Selection(area=(-30, 20, 0, 34))):
        assert chosen.action_mask(index).tolist() == [True, False]


def test_a_period_without_tracking_is_named(make_match, make_tracking, make_phases):
    """Phases and pressure are found in frames: a half that was not tracked holds none, and that is said."""
    tracking = make_tracking({"H10": (0, 0), "A4": (3, 0)}, np.zeros((20, 2)))
    index = index_match(make_match(tracking=tracking), make_phases((1, 0, 4, "H", "build-up")))
    said = "the tracking holds no play of the second half"
    assert describe_gaps(index, Selection(team="H", phases="build-up")) == said
    assert describe_gaps(index, Selection(team="H", phases="build-up", segment=(1, 0, 900))) == ""
    assert describe_gaps(index, Selection(team="H")) == ""
    assert describe_gaps(index, Selection(team="H"), of_time=True) == said


def test_what_the_other_side_does_tells_who_has_the_ball():
    """Common practice, no source: a side builds up with the ball, so the other one is without it."""
    assert not Selection(opponent_phases={"build-up"}).has_ball
    assert Selection(opponent_phases={"high press"}).has_ball
    assert Selection(opponent_phases={"set play"}).has_ball and Selection().has_ball
    assert Selection(phases={"build-up"}, opponent_phases={"build-up"}).has_ball  # its own phases rule
