"""The Common Data Format 0.3.2 (arXiv 2505.15820), written and read.

Outside check: the PyPI package common-data-format-validator (import name `cdf`), its schemas and its samples.
"""

import importlib.util
import json
import shutil
import warnings
from datetime import UTC, datetime
from pathlib import Path

import cdf as validator
import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import INVENTED_LABEL, Match, Period, Player, Team, events_table
from tactical_kit.measures.instants import goals_of
from tactical_kit.sources import (
    InputError,
    Problems,
    check_cdf,
    read_cdf,
    read_match_folder,
    write_cdf,
    write_match_folder,
)
from tactical_kit.sources.cdf_words import KIND_FROM, KIND_TO, OUTCOME_FROM, OUTCOME_TO, POSITION_FROM, POSITION_TO

_spec = importlib.util.spec_from_file_location("small_match", Path(__file__).with_name("small_match.py"))
small = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(small)

SAMPLES = Path(validator.__file__).parent / "files" / "v0.3.2" / "sample"
CHECKS = {
    "meta.json": validator.MetaSchemaValidator,
    "match.json": validator.MatchSchemaValidator,
    "events.jsonl": validator.EventSchemaValidator,
    "tracking.jsonl": validator.TrackingSchemaValidator,
}


def assert_valid(folder: Path) -> None:
    """common-data-format-validator 0.1.1, arXiv 2505.15820, at its strictest: every line, unknown keys refused."""
    files = sorted(p.name for p in folder.iterdir())
    assert files
    for name in files:
        CHECKS[name]().validate_schema(sample=folder / name, mode="extreme", limit=None)


def round_trip(match: Match, folder: Path) -> tuple[Match, Problems, Problems]:
    out, back = Problems(), Problems()
    write_cdf(match, folder, out)
    return read_cdf(folder, back), out, back


# -- round trips ------------------------------------------------------------------------------------------


def test_a_match_comes_back_as_it_was(tmp_path):
    match = small.small_match(start=small.utc())
    back, out, problems = round_trip(match, tmp_path / "cdf")
    small.assert_same(match, back, by_name=True)
    assert_valid(tmp_path / "cdf")
    assert out.lines() == []
    assert problems.lines() == []


def test_folder_to_cdf_to_folder_gives_the_same_bytes(tmp_path):
    match = small.small_match(seed=3, start=small.utc())
    write_match_folder(match, tmp_path / "a")
    write_cdf(read_match_folder(tmp_path / "a"), tmp_path / "cdf", Problems())
    again = read_cdf(tmp_path / "cdf", Problems())
    order = [again.tracking.column(p) for p in match.tracking.players]
    assert order == list(range(len(order)))  # home side first, in the order of the squads
    write_match_folder(again, tmp_path / "b")
    for name in ("match.json", "events.parquet", "tracking.parquet"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    seed=st.integers(0, 10_000),
    numbers=st.sampled_from([(1,), (1, 2), (1, 2, 3, 4), (1, 2, 3, 4, 5), (1, 2, 5)]),
    directions=st.tuples(*[st.sampled_from([1, -1])] * 5),
    rate=st.sampled_from([5.0, 10.0, 25.0]),
    start=st.sampled_from([None, datetime(2026, 3, 1, 18, 30, 0, 123_456, UTC)]),
    flags=st.tuples(*[st.booleans()] * 5),
    ids=st.sampled_from([("home", "away"), ("T1", "T2"), ("id:x", "a b"), ("1", "2")]),
)
def test_any_small_match_round_trips_and_is_valid(tmp_path_factory, seed, numbers, directions, rate, start, flags, ids):
    sent_off, unseen, owner, with_events, with_tracking = flags
    match = small.small_match(
        seed, numbers, directions, rate, 40.0, start, sent_off, unseen, owner, with_events, with_tracking, *ids
    )
    folder = tmp_path_factory.mktemp("cdf") / "m"
    back, _, _ = round_trip(match, folder)
    if not with_events:  # short names and positions stand in match.json, which needs a result
        match = match.with_data(home=_bare(match.home), away=_bare(match.away))
    if not with_tracking and with_events:
        # Without frames the end of an event is told by its reception alone.
        lost = (match.events["receiver"] == "") | (match.events["player"] == "")
        match = match.with_data(events=match.events.assign(end_s=match.events["end_s"].where(~lost)))
    small.assert_same(match, back, starts=start is not None, by_name=True)
    assert_valid(folder)


def _bare(team: Team) -> Team:
    return Team(team.team_id, team.name, "", tuple(
        Player(p.player_id, p.name, p.team_id, p.shirt, "", p.starter) for p in team.players
    ))  # fmt: skip


def test_event_places_keep_every_digit(tmp_path):
    match = small.small_match(start=small.utc(), numbers=(1,), directions=(-1,))
    match.events["x"] += 1 / 3
    back, _, _ = round_trip(match, tmp_path / "cdf")
    pd.testing.assert_frame_equal(match.events, back.events, check_exact=True)


def test_the_same_match_gives_the_same_bytes(tmp_path):
    for name in ("a", "b"):
        write_cdf(small.small_match(start=small.utc()), tmp_path / name, Problems())
    for file in CHECKS:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes()


def test_names_are_data(tmp_path):
    home = Team("home", "<b>Reed</b> & Co", "=1+1", (Player("h1", '<script>alert("x")</script>', "home", 1),))
    match = Match("<i>", home, small.squad("a", "Fern", "away"), (Period(1, 60, 1, small.utc()),))
    back, _, _ = round_trip(match.with_data(events=events_table([])), tmp_path / "cdf")
    assert (back.match_id, back.home) == ("<i>", home)
    assert_valid(tmp_path / "cdf")


# -- directions and times ---------------------------------------------------------------------------------


def test_coordinates_are_standardised_and_the_true_sides_are_told(tmp_path):
    """Schema of meta.json: "The CDF requires a standardized playing direction.  The left_team_id and
    right_team_id should be the actual, non-standardized sides."""
    match = small.small_match(start=small.utc(), directions=(-1, 1, 1, 1, 1))
    write_cdf(match, tmp_path / "cdf", Problems())
    meta = json.loads((tmp_path / "cdf" / "meta.json").read_text("utf-8"))
    told = [(p["play_direction"], p["left_team_id"], p["right_team_id"]) for p in meta["match"]["periods"]]
    assert told == [("left_right", "away", "home"), ("left_right", "home", "away")]
    keepers = {"h1": [], "a1": []}
    for line in (tmp_path / "cdf" / "tracking.jsonl").read_text("utf-8").splitlines():
        for side in json.loads(line)["teams"].values():
            for player in side["players"]:
                if player["id"] in keepers:
                    keepers[player["id"]].append(player["x"])
    assert max(keepers["h1"]) < -40  # the home keeper guards the left goal in both halves
    assert min(keepers["a1"]) > 40
    shots = [json.loads(line)["event"] for line in (tmp_path / "cdf" / "events.jsonl").read_text("utf-8").splitlines()]
    assert {(s["team_id"], np.sign(s["x"])) for s in shots if s["outcome_type"] == "saved" or (s["sub_type"] == "header"
            and s["type"] == "shot")} == {("home", 1), ("away", -1)}  # fmt: skip


@pytest.mark.parametrize("standardised", [False, True])
def test_play_direction_that_names_the_true_ends(tmp_path, standardised):
    """Files whose play_direction follows the teams round the pitch, as in the package's own sample of meta.json.

    The coordinates then either follow, too, or are standardised all the same; keepers and shots tell which.
    """
    match = small.small_match(start=small.utc())  # home attacks +x, then -x
    write_cdf(match, tmp_path / "cdf", Problems())
    _edit_meta(tmp_path / "cdf", lambda m: m["match"]["periods"][1].update(play_direction="right_left"))
    if not standardised:
        _turn_second_half(tmp_path / "cdf")
    problems = Problems()
    back = read_cdf(tmp_path / "cdf", problems)
    small.assert_same(match, back, by_name=True)
    assert problems.lines() == (
        ["warning: cdf: met coordinates in the second half against its play_direction; expected the home side "
         "attacking as play_direction says. They were taken to be standardised, with the home side attacking left "
         "to right."] if standardised else []
    )  # fmt: skip


def _turn_second_half(folder: Path) -> None:
    for name in ("events.jsonl", "tracking.jsonl"):
        lines = []
        for line in (folder / name).read_text("utf-8").splitlines():
            value = json.loads(line)
            if "second_half" in line:
                spots = [value["event"]] if "event" in value else [
                    value["ball"], *value["teams"]["home"]["players"], *value["teams"]["away"]["players"]
                ]  # fmt: skip
                for spot in spots:
                    for key in ("x", "y", "x_end", "y_end"):
                        if spot.get(key) is not None:
                            spot[key] = -spot[key]
            lines.append(json.dumps(value))
        (folder / name).write_text("\n".join(lines) + "\n", "utf-8")


def _edit_meta(folder: Path, change) -> None:
    meta = json.loads((folder / "meta.json").read_text("utf-8"))
    change(meta)
    (folder / "meta.json").write_text(json.dumps(meta), "utf-8")


def test_a_kick_off_is_put_in_where_none_is_known_and_said_so(tmp_path):
    match = small.small_match(numbers=(1, 2, 3, 4, 5))
    back, out, _ = round_trip(match, tmp_path / "cdf")
    assert [p.start_utc for p in back.periods] == [
        datetime(2026, 3, 1, 15, 0, 0, tzinfo=UTC),
        datetime(2026, 3, 1, 15, 15, 40, tzinfo=UTC),  # 40 s of play and 15 minutes
        datetime(2026, 3, 1, 15, 21, 20, tzinfo=UTC),  # 5 minutes before extra time
        datetime(2026, 3, 1, 15, 23, 0, tzinfo=UTC),  # 1 minute
        datetime(2026, 3, 1, 15, 28, 40, tzinfo=UTC),  # 5 minutes before the shoot-out
    ]
    assert out.lines()[0] == (
        "warning: meta.json: met no time of kick-off; expected times in UTC. 2026-03-01T15:00:00Z was written as the "
        "kick-off, with breaks of the usual length."
    )
    unknown, out, _ = round_trip(match.with_data(day=None), tmp_path / "cdf")
    assert unknown.day is None
    assert out.lines()[0] == (
        "warning: meta.json: met no time of kick-off and no day; expected times in UTC. 2000-01-01T15:00:00Z was "
        "written as the kick-off, with breaks of the usual length."
    )


def test_one_known_start_settles_the_others(tmp_path):
    match = small.small_match()
    second = Period(2, 40.0, -1, small.utc())
    back, out, _ = round_trip(match.with_data(periods=(match.periods[0], second)), tmp_path / "cdf")
    assert back.periods[0].start_utc == datetime(2026, 3, 1, 18, 14, 20, tzinfo=UTC)
    assert out.lines() == []


def test_periods_that_overlap_are_refused(tmp_path):
    match = small.small_match()
    periods = (Period(1, 40.0, 1, small.utc()), Period(2, 40.0, -1, small.utc()))
    with pytest.raises(TacticalKitError) as error:
        write_cdf(match.with_data(periods=periods), tmp_path / "cdf", Problems())
    assert str(error.value) == (
        "the second half starts at 2026-03-01T18:30:00Z, before the first half ends at 2026-03-01T18:30:40Z. Correct "
        "start_utc or duration_s of the periods."
    )
    assert list(tmp_path.iterdir()) == []


# -- match.json -------------------------------------------------------------------------------------------


def test_the_result_counts_own_goals_for_the_other_side(tmp_path):
    match = small.small_match(seed=1, start=small.utc())
    write_cdf(match, tmp_path / "cdf", Problems())
    sheet = json.loads((tmp_path / "cdf" / "match.json").read_text("utf-8"))
    goals = match.events[match.events["outcome"] == "goal"]
    home = int((goals["team"] == "home").sum()) + 1  # a3 puts one into his own net
    assert sheet["match"]["result"]["final"]["home"] == home
    own = next(g for g in sheet["events"]["goals"] if g["is_own_goal"])
    assert (own["team_id"], own["player_id"], own["is_penalty"]) == ("home", "a3", False)
    assert [g["is_penalty"] for g in sheet["events"]["goals"]].count(True) == 1
    headed = [g for g in sheet["events"]["goals"] if g["assist_id"]]
    assert all(g["assist_id"][0] == g["player_id"][0] for g in headed)
    assert sheet["events"]["substitutions"][0]["in_player_id"] == "h12"
    assert [c["type"] for c in sheet["events"]["cards"]] == ["yellow_card", "red_card"]


def test_an_own_goal_comes_back_as_a_goal(tmp_path):
    match = small.small_match()
    own = match.events["detail"] == "own-goal"
    assert own.sum() == 1
    again, _, _ = round_trip(match, tmp_path / "cdf")
    rows = again.events[again.events["detail"] == "own-goal"]
    assert rows[["team", "outcome", "success"]].to_numpy().tolist() == [["away", "goal", True]]
    for ours, theirs in zip(goals_of(match), goals_of(again), strict=True):
        assert ours.tolist() == theirs.tolist()


def test_an_undecided_shoot_out_is_left_to_the_events(tmp_path):
    match = small.small_match(numbers=(1, 2, 5), start=small.utc())
    events = match.events[(match.events["period"] != 5) | (match.events["kind"] != "shot")]
    out = Problems()
    write_cdf(match.with_data(events=events.reset_index(drop=True)), tmp_path / "cdf", out)
    assert_valid(tmp_path / "cdf")
    assert out.lines() == [
        "warning: match.json: met a shoot-out at 0-0; expected a shoot-out with a winner. match.json is silent on it; "
        "meta.json and the events hold it."
    ]


def test_the_label_of_invented_data_survives(tmp_path):
    match = small.small_match(start=small.utc()).with_data(label="", invented=True)
    back, _, _ = round_trip(match, tmp_path / "cdf")
    assert (back.label, back.invented) == (INVENTED_LABEL, True)
    back, _, _ = round_trip(match.with_data(label="Lesson 3"), tmp_path / "cdf")
    assert (back.label, back.invented) == ("Lesson 3", True)


# -- words ------------------------------------------------------------------------------------------------


def test_the_tables_of_words_agree_both_ways():
    assert {KIND_FROM[sub]: kind for kind, (_, sub) in KIND_TO.items() if sub} == {
        kind: kind for kind, (_, sub) in KIND_TO.items() if sub
    }
    assert all(OUTCOME_FROM[kind, word] == name for (kind, name), word in OUTCOME_TO.items())
    assert all(POSITION_FROM[word] == name for name, word in POSITION_TO.items() if name not in ("RWB", "LWB"))


def test_what_cannot_be_held_is_reported(tmp_path):
    rows = [
        dict(period=1, time_s=1.0, kind="pass", team="home", player="", x=0.0, y=0.0),
        dict(period=1, time_s=2.0, kind="tackle", team="home", player="h2"),
        dict(period=1, time_s=3.0, kind="pass", team="home", player="h2", x=1.0, y=2.0, set_play="corner",
             detail="cross", success=True, outcome="complete"),
        dict(period=1, time_s=4.0, kind="foul", team="home", player="", x=3.0, y=4.0),
        dict(period=1, time_s=5.0, kind="foul", team="away", player="a2", x=3.0, y=4.0),
    ]  # fmt: skip
    match = small.small_match(start=small.utc(), numbers=(1,), with_tracking=False)
    back, out, problems = round_trip(match.with_data(events=events_table(rows)), tmp_path / "cdf")
    assert_valid(tmp_path / "cdf")
    assert out.lines() == [
        "warning: CDF: met 1 x pass without player or team; expected both, which the standard demands. It was left out.",
        "warning: CDF: met 1 x tackle without a place; expected a place, which the standard demands. It was left out.",
        "warning: CDF: met 1 x detail 'cross' of a set play; expected one sub_type: set play or detail. It was left out.",
        "warning: CDF: met 1 x pass or shot without an end; expected an end, which the standard demands. Its start was "
        "written.",
    ]
    assert back.events["kind"].tolist() == ["pass", "foul", "foul"]
    assert back.events["player"].tolist() == ["h2", "", "a2"]
    assert back.events["end_x"].isna().all()
    assert problems.lines() == [
        "warning: cdf: met only meta.json, match.json, events.jsonl; expected meta, match, events and tracking. The "
        "match has what is there."
    ]


def test_without_a_collector_the_notes_are_one_warning(tmp_path):
    match = small.small_match()
    with pytest.warns(UserWarning, match=r"^meta\.json: met no time of kick-off; expected times in UTC\."):
        write_cdf(match, tmp_path / "cdf")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        read_cdf(tmp_path / "cdf")


def test_a_frame_without_the_ball(tmp_path):
    """The schema allows null; the validator's own check of coordinates does not.

    Kept as a test so that a change on either side is noticed.
    """
    match = small.small_match(start=small.utc())
    match.tracking.ball[5] = np.nan
    back, out, _ = round_trip(match, tmp_path / "cdf")
    small.assert_same(match, back, by_name=True)
    assert out.lines() == [
        "warning: CDF: met 1 x frame without the ball; expected a place of the ball. null was written."
    ]
    line = json.loads((tmp_path / "cdf" / "tracking.jsonl").read_text("utf-8").splitlines()[5])
    check = validator.TrackingSchemaValidator()
    assert list(check.validator.iter_errors(line)) == []
    with pytest.raises(Exception, match=r"^Coordinate 'x' must be a number at path 'ball\.x'$"):
        check.validate_schema(sample=line, mode="strict")


def test_places_far_off_are_moved_to_the_validators_limit(tmp_path):
    match = small.small_match(start=small.utc())
    match.tracking.ball[5, :2] = 70.0, -50.0
    back, out, _ = round_trip(match, tmp_path / "cdf")
    assert back.tracking.ball[5, :2].tolist() == [65.0, -42.5]
    assert_valid(tmp_path / "cdf")
    assert out.lines() == [
        "warning: CDF: met 1 x place of the ball far off the pitch; expected at most 65 x 42.5 m. It was moved to that "
        "limit."
    ]


def test_rates_that_are_no_whole_number_show_in_the_times(tmp_path):
    match = small.small_match(start=small.utc(), rate_hz=12.5)
    back, out, _ = round_trip(match, tmp_path / "cdf")
    assert back.tracking.rate_hz == 12.5
    np.testing.assert_array_equal(back.tracking.time_s, match.tracking.time_s)
    assert out.lines() == [
        "warning: meta.json: met 12.5 frames a second; expected a whole number. 12 was written; the times of the "
        "frames are exact."
    ]


# -- files of others --------------------------------------------------------------------------------------


def sample(tmp_path, *names):
    folder = tmp_path / "s"
    folder.mkdir()
    for name in names:
        shutil.copy(SAMPLES / name, folder)
    return folder


@pytest.mark.parametrize(
    ("name", "home", "away", "level"),
    [
        ("meta.json", "team_789", "team_101", "nothing yet"),
        ("match.json", "Team A", "Team B", "nothing yet"),
        ("event.jsonl", "team_789", "team_101", "events"),
        ("tracking.jsonl", "team_1", "team_2", "tracking"),
    ],
)
def test_each_sample_of_the_package_loads_alone(tmp_path, name, home, away, level):
    problems = Problems()
    match = read_cdf(sample(tmp_path, name), problems)
    assert (match.home.name, match.away.name, match.level) == (home, away, level)
    assert str(problems.warnings[0]) == (
        f"s: met only {name}; expected meta, match, events and tracking. The match has what is there."
    )


@pytest.mark.parametrize("name", ["match.json", "event.jsonl", "tracking.jsonl"])
def test_a_file_named_alone_is_read_alone(tmp_path, name):
    problems = Problems()
    read_cdf(SAMPLES / name, problems)  # the folder holds the others, too
    assert str(problems.warnings[0]).startswith(f"{name}: met only {name};")


def test_what_the_samples_say(tmp_path):
    match = read_cdf(sample(tmp_path, "meta.json", "event.jsonl"), problems := Problems())
    assert match.periods == (
        Period(1, 2700.0, 1, datetime(2023, 5, 15, 19, 45, tzinfo=UTC)),
        Period(2, 2700.0, -1, datetime(2023, 5, 15, 20, 45, tzinfo=UTC)),
    )
    assert (len(match.home.players), match.home.players[0].name, match.home.players[0].shirt) == (12, "Alex Doe", 1)
    first = match.events.iloc[0]
    assert (first.time_s, first.end_s, first.kind, first.set_play, first.outcome) == (
        1830.0, 1833.0, "pass", "corner", "complete",
    )  # fmt: skip
    assert match.events["kind"].tolist() == ["pass", "save", "interception", "tackle", "foul"]
    assert problems.lines() == [
        "warning: s: met only meta.json, event.jsonl; expected meta, match, events and tracking. The match has what is "
        "there.",
        "warning: event.jsonl: met match 'match_2023_05_15_team789_team101'; expected match 'match_456' as in "
        "meta.json. The teams are the same, so they were read as one match.",
        "warning: event.jsonl, row 2, column 'player': met 'player_1' of 'team_789' in an event of 'team_101'; expected "
        "a player of the acting side. Check the team of this row.",
    ]


def test_the_samples_do_not_belong_together(tmp_path):
    with pytest.raises(InputError) as error:
        read_cdf(sample(tmp_path, "meta.json", "match.json", "tracking.jsonl"))
    assert str(error.value) == (
        "2 problems; nothing was loaded.\n"
        "warning: s: met only meta.json, match.json, tracking.jsonl; expected meta, match, events and tracking. The "
        "match has what is there.\n"
        "match.json: met match '123456789' of 2001 and T1000; expected match 'match_456' of team_101 and team_789 as in "
        "meta.json. These files are of different matches; put each match in a folder of its own.\n"
        "tracking.jsonl: met match 'match_12345' of team_1 and team_2; expected match 'match_456' of team_101 and "
        "team_789 as in meta.json. These files are of different matches; put each match in a folder of its own."
    )


def test_frames_with_times_to_the_second_take_them_from_their_ids(tmp_path):
    match = small.small_match(start=small.utc(), numbers=(1,))
    write_cdf(match, tmp_path / "cdf", Problems())
    file = tmp_path / "cdf" / "tracking.jsonl"
    lines = [json.loads(line) for line in file.read_text("utf-8").splitlines()]
    for line in lines:
        line["timestamp"] = line["timestamp"][:19] + "Z"
    file.write_text("\n".join(map(json.dumps, lines)), "utf-8")
    problems = Problems()
    back = read_cdf(tmp_path / "cdf", problems)
    np.testing.assert_array_equal(back.tracking.time_s, match.tracking.time_s)
    assert problems.lines() == [
        "warning: tracking.jsonl: met 160 frames with the time of the frame before; expected times that rise. The "
        "frame ids and fps were taken for the time."
    ]


# -- bad input --------------------------------------------------------------------------------------------

OTHER = {
    "no such player": (
        "tracking.jsonl", lambda t: t.replace('"id":"h3"', '"id":"h33"'),
        "tracking.jsonl: met 'h33'; expected a player of the squad of 'home'. Add the player to the squad in meta.json.",
    ),
    "a cut-off line": (
        "tracking.jsonl", lambda t: t[:-3] + "\n",
        "tracking.jsonl, row 400: met the end of the line; expected valid JSON (expecting ',' delimiter). The file is "
        "cut off or damaged here: export it again.",
    ),
    "not a number": (
        "tracking.jsonl", lambda t: t.replace('"x":', '"x":NaN,"w":', 1),
        "tracking.jsonl, row 1: met NaN; expected a finite number or null. Write null where a value is unknown.",
    ),
    "a gigantic number": (
        "events.jsonl", lambda t: t.replace('"x":0.0', '"x":1e999', 1),
        "events.jsonl, row 1: met 1e999; expected a finite number or null. Write null where a value is unknown.",
    ),
    "nested brackets": (
        "events.jsonl", lambda t: "[" * 100_000 + "\n" + t,
        "events.jsonl, row 1: met brackets nested more than 40 deep; expected at most 40 levels. This is not a file of "
        "this kind; look where it comes from.",
    ),
    "both attack the same way": (
        "meta.json", lambda t: t.replace('"right_team_id": "away"', '"right_team_id": "home"', 1),
        "meta.json, column 'match.periods[0].right_team_id': met 'home'; expected the other side than left_team_id. "
        "Both teams cannot attack the same way.",
    ),
    "an unknown period": (
        "meta.json", lambda t: t.replace('"period": "first_half"', '"period": "first_haf"', 1),
        "meta.json, column 'match.periods[0].period': met 'first_haf'; expected one of first_half, second_half, "
        "first_half_extratime, second_half_extratime, shootout. Correct the value in the file. Did you mean "
        "'first_half'?",
    ),
    "another encoding": (
        "events.jsonl", lambda t: t.encode("utf-16"),
        "events.jsonl, row 1: met UTF-16 text; expected UTF-8 text. Save the file again with the encoding UTF-8.",
    ),
    "a key twice": (
        "meta.json", lambda t: t.replace('"competition": {', '"competition": {"id": "a", ', 1),
        "meta.json: met the key 'id' twice in one object; expected each key once. Remove one of the two.",
    ),
    "an event twice": (
        "events.jsonl", lambda t: t + t.splitlines()[4] + "\n",
        "events.jsonl, row 52, column 'event.id': met 'e005', which row 5 has, too; expected an id of its own. "
        "Remove the copied row.",
    ),
    "time backwards": (
        "tracking.jsonl", lambda t: "\n".join([*t.splitlines()[:10][::-1], *t.splitlines()[10:]]),
        "tracking.jsonl, row 2, column 'timestamp': met 2026-03-01T18:30:01.600000Z in the first half; expected frames "
        "in the order of time. The frame before has 2026-03-01T18:30:01.800000Z in the first half; sort the file, or "
        "correct the time.",
    ),
    "no frame": (
        "tracking.jsonl", lambda t: "",
        "tracking.jsonl: met 0 frames; expected at least one frame. Leave the file out if there is no tracking.",
    ),
    "a list of teams": (
        "meta.json", lambda t: json.dumps({**json.loads(t), "teams": []}),
        "meta.json, column 'teams': met a list; expected an object {...}. Correct the value in the file.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", OTHER)
def test_bad_files_are_refused_with_a_reason(tmp_path, case):
    name, change, message = OTHER[case]
    write_cdf(small.small_match(start=small.utc()), tmp_path / "cdf", Problems())
    file = tmp_path / "cdf" / name
    made = change(file.read_text("utf-8"))
    file.write_bytes(made if isinstance(made, bytes) else made.encode("utf-8"))
    problems = Problems()
    assert check_cdf(tmp_path / "cdf", problems) is None
    assert message in problems.lines()
    with pytest.raises(InputError):
        read_cdf(tmp_path / "cdf")


def test_several_faults_are_reported_together(tmp_path):
    write_cdf(small.small_match(start=small.utc()), tmp_path / "cdf", Problems())
    for name in ("meta.json", "events.jsonl", "tracking.jsonl"):
        OTHER_change = {"meta.json": "an unknown period", "events.jsonl": "a gigantic number",
                        "tracking.jsonl": "not a number"}[name]  # fmt: skip
        file = tmp_path / "cdf" / name
        file.write_text(OTHER[OTHER_change][1](file.read_text("utf-8")), "utf-8")
    with pytest.raises(InputError) as error:
        read_cdf(tmp_path / "cdf")
    assert [p.file for p in error.value.problems.errors] == ["meta.json", "events.jsonl", "tracking.jsonl"]


def test_a_folder_with_other_files_is_not_overwritten(tmp_path):
    (tmp_path / "cdf").mkdir()
    (tmp_path / "cdf" / "notes.txt").write_text("mine")
    with pytest.raises(TacticalKitError) as error:
        write_cdf(small.small_match(start=small.utc()), tmp_path / "cdf", Problems())
    assert str(error.value) == (
        f"{tmp_path / 'cdf'} is not overwritten: it holds other files (notes.txt). Name a new folder."
    )
    assert (tmp_path / "cdf" / "notes.txt").read_text() == "mine"


def test_progress_is_told(tmp_path):
    shares: list[float] = []
    write_cdf(small.small_match(start=small.utc()), tmp_path / "cdf", Problems(), shares.append)
    assert shares == [0.0, 1.0]


def test_events_are_not_lost_to_pandas(tmp_path):
    """<NA> in `success` is written as a word of its own and comes back as <NA>."""
    rows = [dict(period=1, time_s=1.0, kind="pass", team="home", player="h2", x=1.0, y=2.0, end_x=3.0, end_y=4.0)]
    match = small.small_match(start=small.utc(), numbers=(1,), with_tracking=False)
    back, _, _ = round_trip(match.with_data(events=events_table(rows)), tmp_path / "cdf")
    assert back.events["success"].isna().all()
    assert back.events["success"].dtype == pd.BooleanDtype()
    assert back.events["outcome"].tolist() == [""]


def test_stills_are_left_out_and_said_so(tmp_path):
    match = small.small_match()
    notes = Problems()
    write_cdf(match.with_data(stills=(match.snapshot(1, 5.0),)), tmp_path / "cdf", problems=notes)
    assert [p for p in notes.warnings if p.met == "1 still"]
