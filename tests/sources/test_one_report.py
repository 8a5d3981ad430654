"""One run lists every fault: files with one fault of each kind, and the whole report matched line by line.

Source of what counts as a fault: common practice, no source; the lines were read through by hand.
"""

from __future__ import annotations

import copy
import importlib.util
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from tactical_kit.sources.cdf import write_cdf
from tactical_kit.sources.checks import check_files
from tactical_kit.sources.match_folder import read_match_folder, write_match_folder
from tactical_kit.sources.problems import InputError, Problems

_spec = importlib.util.spec_from_file_location("small_match", Path(__file__).with_name("small_match.py"))
assert _spec and _spec.loader
small = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(small)

MAPPING = """\
mapping = 1
[match]
id = "small"
home = { id = "HOM", name = "Home" }
away = { id = "AWY", name = "Away" }
[[period]]
number = 1
duration = 2700
home_attacks = "right"
[[period]]
number = 2
duration = 2800
home_attacks = "left"
[squad]
home = [
  { id = "h1", name = "Hanna", shirt = 1, position = "GK", starter = true },
  { id = "h2", name = "Hedda", shirt = 2, starter = true },
  { id = "h3", name = "Hilde", shirt = 3, starter = true },
  { id = "h4", name = "Holly", shirt = 4, starter = false },
]
away = [
  { id = "a1", name = "Alba", shirt = 1, position = "GK", starter = true },
  { id = "a2", name = "Anke", shirt = 2, starter = true },
  { id = "a3", name = "Asta", shirt = 3, starter = true },
]
[[events]]
file = "events.csv"
[events.columns]
event_id = "id"
period = "period"
time = "time"
end_time = "end"
kind = "event"
team = "team"
player = "player"
receiver = "receiver"
outcome = "outcome"
x = "x"
y = "y"
"""
# Row 3 an unknown half, 4 a time, 5 a cell, 6 half a place, 7 off the pitch, 8 a team, 9 a player, 10 no kind, 11 an id
# twice, 12 an end, 14 a clock running backwards, 15 one too long, 17 one too early, 18 cut off, 19 a huge number.
EVENTS = """\
id,period,time,end,event,team,player,receiver,outcome,x,y
e1,1,0,1,pass,home,h2,h3,complete,0,0
e2,first,10,,pass,home,h2,h3,complete,0,0
e3,1,noon,,pass,home,h2,h3,complete,0,0
e4,1,20,,pass,home,h2,h3,complete,3O,0
e5,1,30,,pass,home,h2,h3,complete,,4
e6,1,40,,pass,home,h2,h3,complete,90,0
e7,1,50,,pass,guests,a2,a3,complete,0,0
e8,1,60,,pass,home,h9,h3,complete,0,0
e9,1,70,,,home,h2,h3,complete,0,0
e9,1,80,,pass,home,h2,h3,complete,0,0
e11,1,90,80,pass,home,h2,h3,complete,0,0
e12,1,800,,pass,home,h2,h3,complete,0,0
e13,1,100,,pass,home,h2,h3,complete,0,0
e14,1,2900,,pass,home,h2,h3,complete,0,0
e15,2,10,,substitution,home,h4,h3,,,
e16,2,-5,,pass,home,h2,h3,complete,0,0
e17,2,50,,pass,home,h2,h3,complete,0
e18,2,60,,shot,away,a2,,saved,1e12,0
"""


def lines_of(text: str) -> list[str]:
    return text.strip().splitlines()


def report(path: Path) -> list[str]:
    before = {p: p.read_bytes() for p in path.parent.rglob("*") if p.is_file()}
    met = check_files(path)
    assert met.errors and not met.sound
    assert {p: p.read_bytes() for p in path.parent.rglob("*") if p.is_file()} == before
    return met.lines()


def test_a_table_of_events(tmp_path: Path) -> None:
    (tmp_path / "m.toml").write_text(MAPPING)
    (tmp_path / "events.csv").write_text(EVENTS)
    assert report(tmp_path / "m.toml") == lines_of(EVENT_LINES)


def test_the_mapping_and_its_table(tmp_path: Path) -> None:
    text = MAPPING.replace("[[events]]", '[coordinates]\nunt = "m"\n[[events]]')
    text = text.replace('end_time = "end"', 'end_tim = "end"\nrelated = "rel"')
    (tmp_path / "m.toml").write_text(text.replace('home_attacks = "left"', 'home_attacks = "lft"'))
    (tmp_path / "events.csv").write_text(EVENTS)
    assert report(tmp_path / "m.toml") == lines_of(MAPPING_LINES)


def test_a_line_up_is_followed_where_no_row_of_it_is_faulty(tmp_path: Path) -> None:
    rows = EVENTS.splitlines()
    (tmp_path / "m.toml").write_text(MAPPING)
    table = [rows[0], "s1,1,5,,substitution,home,h4,h3,,,", rows[2]]
    (tmp_path / "events.csv").write_text("\n".join(table))
    assert [line.split(";")[0] for line in report(tmp_path / "m.toml")] == [
        "events.csv, row 3, column 'period': met 'first'",
        "events.csv, row 2, column 'player': met 'h4' going off",
        "events.csv, row 2, column 'receiver': met 'h3' coming on",
    ]
    table[1] = table[1].replace("h4", "h9")  # who goes off is not known: nothing is said of who is on
    (tmp_path / "events.csv").write_text("\n".join(table))
    assert [line.split(";")[0] for line in report(tmp_path / "m.toml")] == [
        "events.csv, row 3, column 'period': met 'first'",
        "events.csv, row 2, column 'player': met 'h9'",
    ]


def test_one_slip_of_the_clock_is_one_line(tmp_path: Path) -> None:
    rows = [f"e{i},1,{800 if i == 3 else 10 * i},,pass,home,h2,h3,complete,0,0" for i in range(10)]
    (tmp_path / "m.toml").write_text(MAPPING)
    (tmp_path / "events.csv").write_text("\n".join([EVENTS.splitlines()[0], *rows]))
    assert [line.split(";")[0] for line in report(tmp_path / "m.toml")] == [
        "events.csv, row 6, column 'time': met 40 s after 800 s"
    ]


HEAD = """mapping = 1
[match]
home = { id = "HOM", name = "Home" }
away = { id = "AWY", name = "Away" }
[[period]]
number = 1
duration = 60
home_attacks = "right"
[[period]]
number = 2
duration = 60
home_attacks = "left"
"""
PLAYERS = [f"{team}_{shirt}" for team in ("home", "away") for shirt in (1, 2, 3)]


def frames() -> list[dict[str, str]]:
    """Six players who drift over two short periods."""
    random = np.random.default_rng(1)
    start = {f"{p}_{axis}": float(random.uniform(-30, 30)) for p in PLAYERS for axis in "xy"}
    return [
        {"half": str(half), "t": f"{k / 5:.1f}"}
        | {name: f"{value + k / 10:.1f}" for name, value in start.items()}
        | {"ball_x": "1", "ball_y": "1", "poss": "home"}
        for half in (1, 2)
        for k in range(40)
    ]


def write(rows: list[dict[str, str]], path: Path) -> None:
    path.write_text("\n".join([",".join(rows[0]), *(",".join(row.values()) for row in rows)]) + "\n")


def test_a_wide_tracking_table(tmp_path: Path) -> None:
    rows = copy.deepcopy(frames())
    for at, name, cell in (
        (3, "half", "one"), (5, "t", "x"), (7, "home_2_x", "3o"), (9, "away_1_y", ""), (11, "poss", "Reds"),
        (13, "t", "1.0"), (15, "home_3_x", "99"), (39, "t", "75"),
    ):  # fmt: skip
        rows[at][name] = cell
    write([row | {"home_4_x": "1"} for row in rows], tmp_path / "wide.csv")
    (tmp_path / "wide.toml").write_text(
        HEAD + '[tracking]\nfile = "wide.csv"\nform = "wide"\npattern = "{team}_{shirt}_{axis}"\n[tracking.columns]\n'
        'period = "half"\ntime = "t"\nball_x = "ball_x"\nball_y = "ball_y"\nowner = "poss"\n[squad]\nplayers_are = "shirts"\n'
    )
    assert report(tmp_path / "wide.toml") == lines_of(WIDE_LINES)


def test_a_long_tracking_table(tmp_path: Path) -> None:
    rows = []
    for frame in frames():
        for name in PLAYERS:
            side, shirt = name.split("_")
            row = {"half": frame["half"], "t": frame["t"], "who": shirt, "side": side}
            rows.append(row | {"x": frame[f"{name}_x"], "y": frame[f"{name}_y"]})
        rows.append({"half": frame["half"], "t": frame["t"], "who": "ball", "side": "ball", "x": "1", "y": "1"})
    for at, name, cell in (
        (10, "side", "guests"), (20, "x", "o"), (30, "who", ""), (44, "y", ""), (50, "x", "99"), (60, "half", "x"),
        (71, "who", "1"),
    ):  # fmt: skip
        rows[at][name] = cell
    write(rows, tmp_path / "long.csv")
    (tmp_path / "long.toml").write_text(
        HEAD + '[squad]\nplayers_are = "shirts"\n[tracking]\nfile = "long.csv"\nform = "long"\n[tracking.columns]\n'
        'period = "half"\ntime = "t"\nplayer = "who"\nteam = "side"\nx = "x"\ny = "y"\n'
    )
    assert report(tmp_path / "long.toml") == lines_of(LONG_LINES)


# -- Common Data Format and match folders ----------------------------------------------------------------


def change(path: Path, turn: Callable[[dict], None], row: int | None = None) -> None:
    """Change a JSON file, or one line of a file of them."""
    lines = path.read_text("utf-8").splitlines() if row else [path.read_text("utf-8")]
    value = json.loads(lines[row - 1 if row else 0])
    turn(value)
    lines[row - 1 if row else 0] = json.dumps(value)
    path.write_text("\n".join(lines) + "\n", "utf-8")


def test_the_common_data_format(tmp_path: Path) -> None:
    folder = tmp_path / "cdf"
    write_cdf(small.small_match(start=small.utc()), folder, Problems())
    change(folder / "meta.json", lambda v: v["match"].update(kickoff_time="at eight"))
    change(folder / "meta.json", lambda v: v["teams"]["home"].update(name=7))
    change(folder / "match.json", lambda v: v["events"]["cards"][0].update(type="blue"))
    for row, key, value in (
        (3, "time", "noon"), (7, "x", "wide"), (9, "x", 90.0), (10, "player_id", "h99"), (12, "period", "third_half"),
        (13, "id", "e011"),
    ):  # fmt: skip
        change(folder / "events.jsonl", lambda v, k=key, x=value: v["event"].update({k: x}), row)  # type: ignore[misc]
    track = folder / "tracking.jsonl"
    change(track, lambda v: v["ball"].update(x="left"), 21)
    change(track, lambda v: v["teams"]["home"]["players"][3].update(x=1e9), 31)
    change(track, lambda v: v.update(timestamp="2026-03-01T18:30:01Z"), 41)
    for row in (51, 52, 53):
        change(track, lambda v: v["teams"]["home"]["players"].append({"id": "h14", "x": 1.0, "y": 1.0}), row)
    assert report(folder) == lines_of(CDF_LINES)


def set_cell(path: Path, column: str, row: int, value: object) -> None:
    table = pq.read_table(path)
    values = table.column(column).to_pylist()
    values[row - 1] = value
    where = table.schema.get_field_index(column)
    pq.write_table(table.set_column(where, column, pa.array(values, table.schema.field(column).type)), path)


def test_a_match_folder(tmp_path: Path) -> None:
    folder = tmp_path / "m"
    match = small.small_match()
    match.tracking.xy[20:40, 11] = 1.0  # twelve at once
    write_match_folder(match, folder)
    for column, row, value in (
        ("x", 6, float("inf")), ("time_s", 8, 0.1), ("player", 10, "h99"), ("event_id", 11, "e001"), ("x", 13, 80.0),
    ):  # fmt: skip
        set_cell(folder / "events.parquet", column, row, value)
    set_cell(folder / "tracking.parquet", "time_us", 101, 0)
    set_cell(folder / "tracking.parquet", "owner", 101, 4)
    change(folder / "match.json", lambda v: v["home"]["players"][2].update(shirt=-4))
    with pytest.raises(InputError) as caught:
        read_match_folder(folder)
    assert str(caught.value).splitlines() == ["9 problems; nothing was loaded.", *lines_of(FOLDER_LINES)]
    changed = [line for line in report(folder) if "SHA-256" not in line]  # that the files were changed is true, too
    assert changed == lines_of(FOLDER_LINES)


EVENT_LINES = """
events.csv, row 18: met 10 cells; expected 11 cells, as in the header. Check the delimiter and the quotes of this row; the last row of a file may be cut off.
events.csv, row 10, column 'event': met an empty cell; expected a kind of event. Fill it in, or remove the row.
events.csv, row 8, column 'team': met 'guests'; expected a word for team that the mapping knows. Add the word under [words.team].
events.csv, row 3, column 'period': met 'first'; expected a word for period that the mapping knows. 1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out; other words go under [words.period].
events.csv, row 4, column 'time': met 'noon'; expected a number. Mend the cell, or leave it empty.
events.csv, row 5, column 'x': met '3O'; expected a number. Mend the cell, or leave it empty.
events.csv, row 19, column 'x': met '1e12'; expected a number of sensible size. Mend the cell, or leave it empty.
events.csv, row 9, column 'player': met 'h9'; expected a player of one of the squads. Add the player to a squad, or mend the name.
events.csv, row 11, column 'id': met 'e9', which row 10 has, too; expected an id of its own for each event. Remove the copied row, or leave the ids out: the kit numbers the events itself.
events.csv, row 12, column 'end': met an end at 80 s, a start at 90 s; expected an end that is not before the start. Check both times, or leave the end empty.
events.csv, row 14, column 'time': met 100 s after 800 s; expected time that does not run backwards within a period. The clock starts anew: check that the period column tells the periods apart.
events.csv, row 15, column 'time': met 2900 s in period 1; expected at most its length of 2700 s. Mend the length of the period, or say that the clock counts from the start of the match.
events.csv, row 17, column 'time': met -5 s; expected 0 or more seconds from the start of the period. Check where the clock starts.
events.csv, row 6, column 'x': met y without x; expected both coordinates or neither. Fill in the other one, or empty both.
events.csv, row 7, column 'x': met (90.0, 0.0) m from the centre spot; expected a place within 3 m of the pitch of 105 x 68 m. Check unit, origin and pitch size.
"""
MAPPING_LINES = """
m.toml, row 9, column 'period.home_attacks': met 'lft'; expected one of 'right', 'left'. Mend the value. Did you mean 'left'?
m.toml, row 27, column 'coordinates.unt': met the key 'unt'; expected a key of [coordinates]. Known are unit, origin, x_grows, y_grows, frame, length, width. Did you mean 'unit'?
m.toml, row 34, column 'events.columns.end_tim': met the key 'end_tim'; expected a key of [events.columns]. Known are event_id, period, time, minute, second, end_time, duration, kind, detail, set_play, team, player, receiver, success, outcome, x, y, end_x, end_y, body_part, related. Did you mean 'end_time'?
events.csv, row 18: met 10 cells; expected 11 cells, as in the header. Check the delimiter and the quotes of this row; the last row of a file may be cut off.
events.csv, row 1: met no column 'rel'; expected the columns that the mapping names. The header has id, period, time, end, event, team, player, receiver, outcome, x, y.
events.csv, row 10, column 'event': met an empty cell; expected a kind of event. Fill it in, or remove the row.
events.csv, row 8, column 'team': met 'guests'; expected a word for team that the mapping knows. Add the word under [words.team].
events.csv, row 3, column 'period': met 'first'; expected a word for period that the mapping knows. 1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out; other words go under [words.period].
events.csv, row 4, column 'time': met 'noon'; expected a number. Mend the cell, or leave it empty.
events.csv, row 9, column 'player': met 'h9'; expected a player of one of the squads. Add the player to a squad, or mend the name.
events.csv, row 11, column 'id': met 'e9', which row 10 has, too; expected an id of its own for each event. Remove the copied row, or leave the ids out: the kit numbers the events itself.
events.csv, row 14, column 'time': met 100 s after 800 s; expected time that does not run backwards within a period. The clock starts anew: check that the period column tells the periods apart.
events.csv, row 15, column 'time': met 2900 s in period 1; expected at most its length of 2700 s. Mend the length of the period, or say that the clock counts from the start of the match.
events.csv, row 17, column 'time': met -5 s; expected 0 or more seconds from the start of the period. Check where the clock starts.
"""
WIDE_LINES = """
wide.csv, row 1: met 'home_4_x' without the other coordinate of 'HOM-4'; expected an x and a y column for each player. Mend the header, or remove the column.
wide.csv, row 5, column 'half': met 'one'; expected a word for period that the mapping knows. 1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out; other words go under [words.period].
wide.csv, row 7, column 't': met 'x'; expected a number. Mend the cell, or leave it empty.
wide.csv, row 9, column 'home_2_x': met '3o'; expected a number. Mend the cell, or leave it empty.
wide.csv, row 11, column 'away_1_y': met one coordinate without the other; expected both or neither. Fill in the other one, or empty both.
wide.csv, row 13, column 'poss': met 'Reds'; expected a word for team that the mapping knows. Add the word under [words.team].
wide.csv, row 15, column 't': met 1 s after 2.4 s; expected time that rises from frame to frame. Remove frames that stand twice, give the time with more decimals, or name the period's column.
wide.csv, row 41: met 75 s in period 1; expected at most its length of 60 s. Mend the length of the period, or say that the clock counts from the start of the match.
wide.csv, row 17, column 'HOM-3': met (99.0, -3.1) m; expected a place within 10 m of the pitch of 105 x 68 m. Check unit, origin and pitch size.
"""
LONG_LINES = """
long.csv, row 62, column 'half': met 'x'; expected a word for period that the mapping knows. 1 and 2 are the halves, 3 and 4 extra time, 5 the shoot-out; other words go under [words.period].
long.csv, row 12, column 'side': met 'guests'; expected a word for team that the mapping knows. Add the word under [words.team].
long.csv, row 32, column 'who': met an empty cell; expected a player of one of the squads, or the ball. Add the player to a squad, or the word for the ball under words.ball. Without a squad, the table has to name the team of each row.
long.csv, row 22, column 'x': met 'o'; expected a number. Mend the cell, or leave it empty.
long.csv, row 46, column 'y': met one coordinate without the other; expected both or neither. Fill in the other one, or empty both.
long.csv, row 73, column 'who': met '1' a second time in one frame; expected one row for each player and frame. Remove the copied row; if frames share a time, give the time with more decimals.
long.csv, row 51, column 'HOM-2': met (99.0, 27.6) m; expected a place within 10 m of the pitch of 105 x 68 m. Check unit, origin and pitch size.
"""
CDF_LINES = """
meta.json, column 'match.kickoff_time': met 'at eight'; expected a time such as 2026-03-01T14:00:00Z. Correct the value in the file.
meta.json, column 'teams.home.name': met 7; expected a text of at most 1000 characters. Correct the value in the file.
match.json, column 'events.cards[0].type': met 'blue'; expected one of yellow_card, second_yellow_card, red_card. Correct the value in the file.
events.jsonl, row 3, column 'event.time': met 'noon'; expected a time such as 2026-03-01T14:00:00Z. Correct the value in the file.
events.jsonl, row 7, column 'event.x': met 'wide'; expected a number from -1e+06 to 1e+06. Correct the value in the file.
events.jsonl, row 12, column 'event.period': met 'third_half'; expected one of first_half, second_half, first_half_extratime, second_half_extratime, shootout. Correct the value in the file. Did you mean 'first_half'?
events.jsonl, row 13, column 'event.id': met 'e011', which row 11 has, too; expected an id of its own. Remove the copied row.
tracking.jsonl, row 21, column 'ball.x': met 'left'; expected a number. Correct the value in the file.
tracking.jsonl, row 31, column 'teams': met 1e+09 m; expected a place near the pitch. Correct the value in the file.
tracking.jsonl, row 41, column 'timestamp': met 2026-03-01T18:30:01Z in the first half; expected frames in the order of time. The frame before has 2026-03-01T18:30:07.800000Z in the first half; sort the file, or correct the time.
events.jsonl, row 9, column 'x': met (90.0, -8.0) m from the centre spot; expected a place within 3 m of the pitch of 104 x 67 m. Check unit, origin and pitch size.
events.jsonl, row 10, column 'player': met 'h99'; expected a player of one of the squads. Add the player to a squad, or mend the name. Did you mean 'h9'?
tracking.jsonl, row 51: met 12 players of the home side at once (and in 2 more frames); expected at most 11. Leave the cells of players who are not on the pitch empty.
"""
FOLDER_LINES = """
match.json, column 'home.players[2].shirt': met -4; expected a whole number from 0 to 999. Correct the value in the file.
events.parquet, row 6, column 'x': met inf; expected a finite number. Write the match again.
events.parquet, row 8, column 'time_s': met period 1, 0.1 s; expected no time before the row above (period 1, 4 s). Write the match again.
events.parquet, row 11, column 'event_id': met e001; expected each event_id once. Give the event an id of its own.
tracking.parquet, row 101, column 'time_us': met period 1, 0 s; expected a time after the row above (period 1, 19.8 s). Write the match again.
tracking.parquet, column 'owner': met 4; expected -1, 0 or 1. Write the match again.
events.parquet, row 13, column 'x': met (80.0, 33.5) m from the centre spot; expected a place within 3 m of the pitch of 104 x 67 m. Check unit, origin and pitch size.
events.parquet, row 10, column 'player': met 'h99'; expected a player of one of the squads. Add the player to a squad, or mend the name. Did you mean 'h9'?
tracking.parquet, row 21: met 12 players of the home side at once (and in 19 more frames); expected at most 11. Leave the cells of players who are not on the pitch empty.
"""
