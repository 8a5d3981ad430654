"""Mapping files: keys, places by hand, words, clocks.  Broken mappings are in corpus/."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tactical_kit.pitch import Pitch
from tactical_kit.sources.mapping import Coordinates, Words
from tactical_kit.sources.mapping_form import line_of
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables import read_table_match, read_table_match_into

# By hand, on 105 x 68 m: (raw, metres from the centre spot).
PLACES = [
    (Coordinates(), (10, -5), (10, -5)),
    (Coordinates(y_grows="down"), (10, -5), (10, 5)),
    (Coordinates(x_grows="left"), (10, -5), (-10, -5)),
    (Coordinates("cm"), (1050, -3400), (10.5, -34)),
    (Coordinates("m", "bottom-left"), (0, 0), (-52.5, -34)),
    (Coordinates("m", "bottom-left"), (105, 68), (52.5, 34)),
    (Coordinates("m", "top-left", "right", "down"), (0, 0), (-52.5, 34)),
    (Coordinates("m", "top-right", "left", "down"), (0, 0), (52.5, 34)),
    (Coordinates("m", "bottom-right", "left", "up"), (5, 4), (47.5, -30)),
    (Coordinates("%", "bottom-left"), (50, 50), (0, 0)),
    (Coordinates("%", "bottom-left"), (100, 25), (52.5, -17)),
    (Coordinates("0-1", "top-left", "right", "down"), (0.5, 1), (0, -34)),
    (Coordinates("pitch units", "bottom-left", length=120, width=80), (120, 80), (52.5, 34)),
    (Coordinates("pitch units", "centre", length=2, width=2), (1, -1), (52.5, -34)),
    (Coordinates("yd", "bottom-left"), (100, 10), (100 * 0.9144 - 52.5, 9.144 - 34)),
]


@pytest.mark.parametrize(("coordinates", "raw", "metres"), PLACES)
def test_places(coordinates: Coordinates, raw: tuple[float, float], metres: tuple[float, float]) -> None:
    x, y = coordinates.to_pitch([raw[0]], [raw[1]], Pitch())
    np.testing.assert_allclose((x[0], y[0]), metres, atol=1e-9)


def test_per_cent_follow_the_size_of_the_pitch() -> None:
    x, y = Coordinates("%", "bottom-left").to_pitch([100.0], [100.0], Pitch(100, 64))
    assert (x[0], y[0]) == (50.0, 32.0)


def test_words_do_not_mind_case_blanks_and_hyphens_and_the_kits_own_always_count() -> None:
    words = Words({"kind": {"pass, cross": ["Centre  Ball"]}, "team": {"home": ["H"]}})
    assert words.look_up("kind", "centre_ball") == "pass, cross"
    assert words.look_up("kind", "Take On") == "take-on"
    assert words.look_up("team", "AWAY") == "away" and words.look_up("team", "x") is None


@pytest.mark.parametrize(
    ("meaning", "parts"),
    [
        ("pass", {"kind": "pass"}),
        ("pass, cross, corner", {"kind": "pass", "detail": "cross", "set_play": "corner"}),
        ("shot, penalty, goal", {"kind": "shot", "set_play": "penalty", "outcome": "goal"}),
        ("card, second-yellow", {"kind": "card", "detail": "second-yellow"}),
        ("pass, offside, left_foot", {"kind": "pass", "outcome": "offside", "body_part": "left_foot"}),
    ],
)
def test_a_word_may_fill_several_fields(meaning: str, parts: dict[str, str]) -> None:
    assert Words.parts(meaning) == parts


def test_the_line_of_a_key() -> None:
    text = 'a = 1\n[clock]\nform = "x"\n[[events]]\nfile = "f"\n[events.columns]\nform = "y"\n'
    assert [line_of(text, k) for k in ("a", "clock.form", "events.file", "events.columns.form", "zz")] == [
        1,
        3,
        5,
        7,
        None,
    ]


# -- from file to match, one matter at a time -------------------------------------------------------------

HEAD = """mapping = 1
[[period]]
number = 1
duration = "46:00"
home_attacks = "right"
[[period]]
number = 2
duration = "47:00"
home_attacks = "left"
"""


def events_of(tmp_path: Path, header: str, rows: list[str], toml: str, head: str = HEAD):
    (tmp_path / "e.csv").write_text("\n".join([header, *rows]))
    columns = "".join(f'{name} = "{name}"\n' for name in header.split(","))
    (tmp_path / "m.toml").write_text(f'{head}{toml}\n[[events]]\nfile = "e.csv"\n[events.columns]\n{columns}')
    return read_table_match(tmp_path / "m.toml").events


def test_added_time_as_it_is_displayed(tmp_path: Path) -> None:
    rows = ["1,44:59,pass,home,a", "1,45+0:30,pass,home,a", "2,45:10,pass,home,a", "2,90+1:05.5,pass,away,b"]
    events = events_of(tmp_path, "period,time,kind,team,player", rows, '[clock]\nform = "mm:ss"\nfrom = "match"')
    # By hand: 44:59 = 2699 s; 45:30 of the half = 2730 s; 10 s after half-time; 46:05.5 of the second half.
    assert events["time_s"].tolist() == [2699.0, 2730.0, 10.0, 2765.5]


def test_a_clock_that_runs_on_tells_the_period(tmp_path: Path) -> None:
    head = HEAD.replace("number = 2\n", 'number = 2\nclock_start = "46:00"\n')
    rows = ["2759.5,pass,home,a", "2760,pass,home,a", "3000,pass,away,b"]
    events = events_of(tmp_path, "time,kind,team,player", rows, '[clock]\nfrom = "match"', head)
    assert events["period"].tolist() == [1, 2, 2]
    assert events["time_s"].tolist() == [2759.5, 0.0, 240.0]


def test_timestamps_tell_the_period(tmp_path: Path) -> None:
    head = HEAD.replace("number = 1\n", "number = 1\nstart = 2026-05-03T15:00:00+02:00\n")
    head = head.replace("number = 2\n", "number = 2\nstart = 2026-05-03T16:02:00+02:00\n")
    rows = ["2026-05-03T13:00:01.25Z,pass,home,a", "2026-05-03T14:02:00Z,pass,away,b"]
    events = events_of(tmp_path, "time,kind,team,player", rows, '[clock]\nform = "timestamp"', head)
    assert events["period"].tolist() == [1, 2] and events["time_s"].tolist() == [1.25, 0.0]


def test_success_words_give_outcomes_and_outcomes_give_success(tmp_path: Path) -> None:
    rows = [
        "1,1,pass,home,a,ok",
        "1,2,shot,home,a,ok",
        "1,3,tackle,away,b,nope",
        "1,4,pass,home,a,nope",
        "1,5,foul,home,a,",
    ]
    toml = '[words.success]\nyes = ["ok"]\nno = ["nope"]'
    events = events_of(tmp_path, "period,time,kind,team,player,success", rows, toml)
    assert events["outcome"].tolist() == ["complete", "goal", "lost", "", ""]
    assert events["success"].astype(object).where(events["success"].notna(), None).tolist() == [
        True,
        True,
        False,
        False,
        None,
    ]


def test_a_word_of_kind_fills_set_play_detail_and_outcome(tmp_path: Path) -> None:
    toml = '[words.kind]\n"pass, cross, corner" = ["corner crossed"]\n"shot, goal" = ["Goal!"]'
    events = events_of(
        tmp_path, "period,time,kind,team,player", ["1,1,Corner crossed,home,a", "1,2,Goal!,home,a"], toml
    )
    assert events.loc[0, ["kind", "detail", "set_play"]].tolist() == ["pass", "cross", "corner"]
    assert events.loc[1, ["kind", "outcome", "success"]].tolist() == ["shot", "goal", True]


def test_skipped_kinds_are_left_out_and_kept_columns_stay(tmp_path: Path) -> None:
    (tmp_path / "e.csv").write_text("period,time,kind,team,player,note\n1,1,pass,home,a,<b>\n1,2,camera,home,a,\n")
    columns = "".join(f'{n} = "{n}"\n' for n in ("period", "time", "kind", "team", "player"))
    (tmp_path / "m.toml").write_text(
        f'{HEAD}[words]\nskip = ["Camera"]\n[[events]]\nfile = "e.csv"\nkeep = ["note"]\n[events.columns]\n{columns}'
    )
    events = read_table_match(tmp_path / "m.toml").events
    assert events["kind"].tolist() == ["pass"] and events["note"].tolist() == ["<b>"]


def test_players_by_shirt_and_by_name(tmp_path: Path) -> None:
    squad = (
        '[squad]\nplayers_are = "{}"\nhome = [{{ id = "x7", name = "Ida Öst", shirt = 7, starter = true }}]\n'
        'away = [{{ id = "y7", name = "Ute", shirt = 7, starter = true }}]'
    )
    header = "period,time,kind,team,player,receiver"
    events = events_of(tmp_path, header, ["1,1,pass,home,7,", "1,2,pass,away,7.0,"], squad.format("shirts"))
    assert events["player"].tolist() == ["x7", "y7"]
    events = events_of(tmp_path, header, ["1,1,pass,home,ida öst,UTE", "1,2,pass,away,Ute,"], squad.format("names"))
    assert events["player"].tolist() == ["x7", "y7"] and events["receiver"].tolist() == ["y7", ""]


def test_a_squad_from_a_table_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "squad.csv").write_text(
        "id;name;side;no;pos;first\nx;Ida;H;7;CM;yes\nz;Zoe;H;12;;no\ny;Ute;A;1;GK;yes\n"
    )
    toml = (
        '[squad]\nfile = "squad.csv"\n[squad.columns]\nplayer = "id"\nname = "name"\nteam = "side"\nshirt = "no"\n'
        'position = "pos"\nstarter = "first"\n[words.team]\nhome = ["H"]\naway = ["A"]'
    )
    events_of(tmp_path, "period,time,kind,team,player", ["1,1,pass,H,x", "1,2,pass,A,y"], toml)
    match = read_table_match(tmp_path / "m.toml")
    assert [(p.name, p.shirt, p.position, p.starter) for p in match.home.players] == [
        ("Ida", 7, "CM", True),
        ("Zoe", 12, "", False),
    ]


def test_a_mapping_may_say_what_no_column_does(tmp_path: Path) -> None:
    (tmp_path / "e.csv").write_text("time,player\n5,a\n")
    (tmp_path / "m.toml").write_text(
        HEAD + '[[events]]\nfile = "e.csv"\n[events.columns]\ntime = "time"\nplayer = "player"\n'
        '[events.always]\nkind = "recovery"\nteam = "away"\nperiod = "2"\n'
    )
    problems = Problems()
    match = read_table_match_into(tmp_path / "m.toml", problems)
    assert match is not None and not problems.errors
    row = match.events.iloc[0]
    assert (row.kind, row.team, row.period, row.success) == ("recovery", "away", 2, True)
