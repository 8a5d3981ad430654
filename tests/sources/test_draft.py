"""Drafts of mappings: what they recognise, what they admit not to know, and that they read once that is answered."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path

import numpy as np
import pytest

from tactical_kit.match import Match
from tactical_kit.sources.draft import draft_mapping
from tactical_kit.sources.mapping_read import read_mapping
from tactical_kit.sources.problems import InputError, Problems
from tactical_kit.sources.tables import read_table_match

_spec = importlib.util.spec_from_file_location("messy_tables", Path(__file__).with_name("messy_tables.py"))
assert _spec and _spec.loader
messy = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(messy)


@pytest.fixture(scope="module")
def small() -> Match:
    return messy.small_match()


# What the author of the table knows, and the draft asked: origin and direction by convention.
ANSWERS = {
    "metres-centre": {},
    "metres-centre-y-down": {'y_grows = "up"  # ?': 'y_grows = "down"'},
    "metres-corner": {},
    "metres-top-left": {'origin = "bottom-left"  # ?': 'origin = "top-left"'},
    "per-cent-top-left": {'origin = "bottom-left"  # ?': 'origin = "top-left"'},
    "per-cent-corner": {},
    "shares-corner": {},
    "centimetres-centre": {},
    "units-120-80": {'origin = "bottom-left"  # ?': 'origin = "top-left"'},
    "yards-corner": {},
}


@pytest.mark.parametrize("frame", ["pitch", "attacking", "home"])
@pytest.mark.parametrize("place", list(ANSWERS))
def test_a_draft_reads_back_once_its_doubts_are_answered(tmp_path: Path, small: Match, place: str, frame: str) -> None:
    messy.write_messy(small, tmp_path, place, "match-mmss", frame, ";", ",")
    text, doubts = draft_mapping(tmp_path / "log.csv")
    assert 'complete = ["successful"]' not in text  # passes and tackles succeed in different words: asked about
    asked = "Words for outcome that were not recognised: 'successful'; add them under [words.outcome]."
    assert asked in doubts
    answered = text.replace("[words.outcome]", '[words.outcome]\ncomplete = ["successful"]')
    for question, answer in ANSWERS[place].items():
        assert question in answered
        answered = answered.replace(question, answer)
    answered = answered.replace('home = "North"  # ?', 'home = { id = "N", name = "North" }')
    answered = answered.replace('away = "South"  # ?', 'away = { id = "S", name = "South" }')
    for number, attacks in ((1, "left"), (2, "right")):
        answered = answered.replace(f"number = {number}\n", f'number = {number}\nhome_attacks = "{attacks}"\n')
    answered += messy.squad_toml(small)
    path = tmp_path / "log.toml"
    path.write_text(answered, encoding="utf-8")
    assert f'frame = "{frame}"' in answered
    got = read_table_match(path)
    for name in ("x", "y", "end_x", "end_y", "time_s", "end_s"):
        np.testing.assert_allclose(got.events[name], small.events[name], atol=0.01, err_msg=name)
    for name in ("kind", "team", "player", "receiver", "outcome"):
        assert got.events[name].tolist() == small.events[name].tolist(), name


@pytest.mark.parametrize("clock", list(messy.CLOCKS))
def test_the_clock_is_recognised(tmp_path: Path, small: Match, clock: str) -> None:
    toml, columns, _ = messy.CLOCKS[clock]
    messy.write_messy(small, tmp_path, "metres-centre", clock)
    text, _ = draft_mapping(tmp_path / "log.csv")
    raw = tomllib.loads(text)
    wanted = tomllib.loads(toml)
    assert raw["clock"]["form"] == wanted["form"]
    assert clock == "timestamp" or raw["clock"]["from"] == wanted.get("from", "period")
    assert {k: v for k, v in raw["events"][0]["columns"].items() if k in ("time", "minute", "second")} == columns


HEADERS = {
    "plain": "period,time,event,team,player,x,y,end x,end y,outcome",
    "snake": "period_id,time_s,event_type,team_name,player_name,start_x,start_y,end_x,end_y,result",
    "camel": "Half,matchTime,actionType,teamId,playerId,startX,startY,endX,endY,Outcome",
    "units": "Half,Clock (s),Action,Side,By,X [m],Y [m],X to [m],Y to [m],Result",
    "numbered": "half no,seconds,type,club,from,x1,y1,x2,y2,result",
    "slips": "perod,timestmp,event,teem,plyer,x,y,end x,end y,outcom",
}


@pytest.mark.parametrize("spelling", list(HEADERS))
def test_headers_in_plain_english_in_many_spellings(tmp_path: Path, spelling: str) -> None:
    rows = [f"1,{10 * i},pass,home,p{i % 5},{(i * 7) % 100 - 50},{(i * 5) % 66 - 33},0,0,complete" for i in range(40)]
    file = tmp_path / "events.csv"
    file.write_text("\n".join([HEADERS[spelling], *rows]))
    text, doubts = draft_mapping(file)
    header = HEADERS[spelling].split(",")
    fields = ["period", "time", "kind", "team", "player", "x", "y", "end_x", "end_y", "outcome"]
    columns = tomllib.loads(text)["events"][0]["columns"]
    if spelling == "slips":
        del fields[3], header[3]  # "teem" is too far off, and said to be unused
        assert [d for d in doubts if "spelling is only near" in d] == [
            "Column 'perod' was taken for period: the spelling is only near.",
            "Column 'timestmp' was taken for time: the spelling is only near.",
            "Column 'plyer' was taken for player: the spelling is only near.",
            "Column 'outcom' was taken for outcome: the spelling is only near.",
        ]
        assert "Not used, as the header does not tell what they hold: 'teem'." in doubts
        assert 'period = "perod"  # ?' in text
    assert columns == dict(zip(fields, header))


@pytest.mark.parametrize(
    ("far_x", "far_y", "low", "unit", "origin", "sure"),
    [
        (100, 100, 0, "%", "bottom-left", True),
        (1, 1, 0, "0-1", "bottom-left", True),
        (105, 68, 0, "m", "bottom-left", False),  # a pitch of 115 x 74 yards looks much the same
        (105, 68, 0.5, "m", "centre", False),
        (120, 80, 0, "pitch units", "bottom-left", False),
        (10500, 6800, 0.5, "cm", "centre", True),
    ],
)  # fmt: skip
def test_units_are_told_from_the_range(
    tmp_path: Path, far_x: float, far_y: float, low: float, unit: str, origin: str, sure: bool
) -> None:
    grid = [(i / 20 - low, j / 20 - low) for i in range(21) for j in range(21)]
    rows = [f"1,{i},pass,home,p,{u * far_x:g},{v * far_y:g}" for i, (u, v) in enumerate(grid)]
    file = tmp_path / "e.csv"
    file.write_text("\n".join(["period,time,event,team,player,x,y", *rows]))
    text, doubts = draft_mapping(file)
    coordinates = tomllib.loads(text)["coordinates"]
    assert (coordinates["unit"], coordinates["origin"]) == (unit, origin)
    assert any(d.startswith("Unit of the coordinates") for d in doubts) is not sure
    if unit == "pitch units":
        assert (coordinates["length"], coordinates["width"]) == (120, 80)


def test_a_word_with_two_meanings_is_asked_about_and_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "e.csv"
    file.write_text(
        "period,time,event,team,player,x,y\n1,1,Dribble,home,a,1,1\n1,2,Wombat,away,b,2,2\n1,3,Throw In,home,a,2,2\n"
    )
    text, doubts = draft_mapping(file)
    assert (
        "'Dribble' among the kinds may mean a carry, or a take-on against an opponent: add it under [words.kind]."
        in doubts
    )
    assert "Words for kind that were not recognised: 'Wombat'; add them under [words.kind]." in doubts
    assert "# ? kind: Dribble (a carry, or a take-on against an opponent)" in text
    assert tomllib.loads(text)["words"]["kind"] == {"pass, throw-in": ["Throw In"]}


def tracking(headers: list[str]) -> str:
    rows = [
        ",".join(["1", f"{i / 25:.2f}", *(f"{(k * 13 + i) % 100 - 50}" for k in range(len(headers)))])
        for i in range(30)
    ]
    return "\n".join([",".join(["period", "time", *headers]), *rows])


@pytest.mark.parametrize(
    ("names", "pattern"),
    [
        ([f"{t}_{s}_{a}" for t in ("home", "away") for s in (1, 2, 3) for a in "xy"], "{team}_{shirt}_{axis}"),
        ([f"x {t} {s}" if a == "x" else f"y {t} {s}" for t in ("H", "A") for s in (1, 2, 3) for a in "xy"], "{axis} {team} {shirt}"),
        ([f"{t}{s}{a}" for t in ("Home", "Away") for s in (1, 2, 3) for a in "XY"], "{team}{shirt}{axis}"),
        ([f"Home Player {s} {a}".replace("Home", t) for t in ("Home", "Away") for s in (7, 8) for a in "XY"], "{team} Player {shirt} {axis}"),
        ([f"p{n} {a}" for n in ("Ann", "Bea", "Cil", "Dot") for a in "xy"], "{player} {axis}"),
    ],
)  # fmt: skip
def test_wide_tracking_is_recognised_by_its_pattern(tmp_path: Path, names: list[str], pattern: str) -> None:
    file = tmp_path / "t.csv"
    file.write_text(tracking([*names, "ball_x", "ball_y"]))
    text, doubts = draft_mapping(file)
    table = tomllib.loads(text)["tracking"]
    assert (table["form"], table["pattern"]) == ("wide", pattern)
    assert table["columns"] == {"period": "period", "time": "time", "ball_x": "ball_x", "ball_y": "ball_y"}
    assert not [d for d in doubts if d.startswith("Not used")]


def test_long_tracking_is_recognised(tmp_path: Path) -> None:
    rows = [f"1,{f / 10},{t},{s},{f + s},{s}" for f in range(10) for t in ("home", "away") for s in (1, 2, 3)]
    file = tmp_path / "t.csv"
    file.write_text("\n".join(["half,t,team,shirt,x,y", *rows]))
    table = tomllib.loads(draft_mapping(file).text)["tracking"]
    assert table["form"] == "long"
    assert table["columns"] == {"period": "half", "time": "t", "player": "shirt", "team": "team", "x": "x", "y": "y"}


@pytest.mark.parametrize(
    "header", ['a "quoted" name', "back\\slash", "new\nline", "tab\there", "=HYPERLINK(1)", "# ?", "'"]
)
def test_odd_headers_and_words_make_valid_toml(tmp_path: Path, header: str) -> None:
    import csv

    file = tmp_path / "e.csv"
    with file.open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["period", "time", "event", "team", "player", "x", "y", header])
        for i in range(5):
            writer.writerow([1, i, header, header, header, i, i, "z"])
    text, _ = draft_mapping(file)
    (tmp_path / "e.toml").write_text(text, encoding="utf-8")
    problems = Problems()
    assert read_mapping(tmp_path / "e.toml", problems) is not None, problems.lines()


def test_an_unreadable_table_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "t.parquet"
    file.write_bytes(b"PK\x03\x04 and more")
    with pytest.raises(InputError) as caught:
        draft_mapping(file)
    assert str(caught.value) == (
        "1 problem; nothing was loaded.\n"
        "t.parquet: met a zip archive; expected a Parquet file. Rename the file to what it is, or export it again."
    )
