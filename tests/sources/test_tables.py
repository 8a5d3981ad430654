"""Any table through a mapping: the same events come back from every convention, to 1 cm and 10 ms."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tactical_kit.match import EVENT_COLUMNS, Match
from tactical_kit.sources.problems import InputError, Problems
from tactical_kit.sources.tables import read_table_match, read_table_match_into

_spec = importlib.util.spec_from_file_location("messy_tables", Path(__file__).with_name("messy_tables.py"))
assert _spec and _spec.loader
messy = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(messy)

TEXTS = ["kind", "team", "player", "receiver", "outcome"]
PLACES = ["x", "y", "end_x", "end_y"]


@pytest.fixture(scope="module")
def small() -> Match:
    return messy.small_match()


def assert_same_events(got: Match, want: Match) -> None:
    a, b = got.events, want.events
    assert a is not None and b is not None
    assert list(a.columns[: len(EVENT_COLUMNS)]) == list(EVENT_COLUMNS)
    assert a["period"].tolist() == b["period"].tolist()
    for name in TEXTS:
        assert a[name].tolist() == b[name].tolist(), name
    assert a["success"].fillna(False).tolist() == b["success"].fillna(False).tolist()
    assert a["success"].isna().tolist() == b["success"].isna().tolist()
    for name in ("time_s", "end_s"):
        np.testing.assert_allclose(a[name], b[name], atol=0.01, err_msg=name)
    for name in PLACES:
        np.testing.assert_allclose(a[name], b[name], atol=0.01, err_msg=name)


@pytest.mark.parametrize("frame", ["pitch", "attacking", "home"])
@pytest.mark.parametrize("place", list(messy.PLACES))
def test_every_unit_origin_and_direction(tmp_path: Path, small: Match, place: str, frame: str) -> None:
    problems = Problems()
    got = read_table_match_into(messy.write_messy(small, tmp_path, place, "seconds", frame), problems)
    assert problems.lines() == []
    assert got is not None
    assert_same_events(got, small)
    assert got.level == "events"


@pytest.mark.parametrize("clock", list(messy.CLOCKS))
def test_every_clock(tmp_path: Path, small: Match, clock: str) -> None:
    got = read_table_match(messy.write_messy(small, tmp_path, "metres-centre", clock))
    assert_same_events(got, small)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize(("delimiter", "decimal"), [(",", "."), (";", ","), ("\t", ","), ("|", ".")])
def test_every_delimiter_and_encoding(
    tmp_path: Path, small: Match, delimiter: str, decimal: str, encoding: str
) -> None:
    path = messy.write_messy(small, tmp_path, "metres-corner", "mmss", "attacking", delimiter, decimal, encoding)
    assert_same_events(read_table_match(path), small)


@pytest.mark.parametrize("suffix", [".xlsx", ".parquet"])
def test_excel_and_parquet_read_as_csv_does(tmp_path: Path, small: Match, suffix: str) -> None:
    path = messy.write_messy(small, tmp_path, "metres-corner", "seconds")
    table = pd.read_csv(tmp_path / "log.csv")
    if suffix == ".xlsx":
        book = openpyxl.Workbook()
        book.active.title = "notes"
        sheet = book.create_sheet("log")
        sheet.append(list(table.columns))
        for row in table.itertuples(index=False):
            sheet.append([None if isinstance(v, float) and np.isnan(v) else v for v in row])
        book.save(tmp_path / "log.xlsx")
        path.write_text(path.read_text().replace('file = "log.csv"', 'file = "log.xlsx"\nsheet = "log"'))
    else:
        table.to_parquet(tmp_path / "log.parquet")
        path.write_text(path.read_text().replace("log.csv", "log.parquet"))
    assert_same_events(read_table_match(path), small)


def test_a_quoted_line_break_is_one_row_and_a_blank_row_is_counted(tmp_path: Path, small: Match) -> None:
    path = messy.write_messy(small, tmp_path, "metres-centre", "seconds")
    text = (tmp_path / "log.csv").read_text()
    header, first, second, third, *rest = text.splitlines()
    cells = third.split(",")
    third = ",".join(["1st", "nonsense", *cells[2:]])
    first = first.replace("Pass", '"Pa\nss"')
    (tmp_path / "log.csv").write_text("\n".join([header, first, "", second, third, *rest]))
    path.write_text(path.read_text().replace("[words.kind]", '[words.kind]\npass = ["Pa\\nss"]'))
    with pytest.raises(InputError) as caught:
        read_table_match(path)
    assert str(caught.value) == (
        "1 problem; nothing was loaded.\n"
        "log.csv, row 5, column 'Clock': met 'nonsense'; expected a number. Mend the cell, or leave it empty."
    )


def test_squads_periods_and_directions_are_told_from_the_data_with_a_note(tmp_path: Path, small: Match) -> None:
    path = messy.write_messy(small, tmp_path, "metres-centre", "seconds")
    text = path.read_text()
    start, squad = text.index("[[period]]"), text.index("[squad]")
    text = text[:start] + text[text.index("[coordinates]") : squad] + text[text.index("[words.period]") :]
    path.write_text(text)
    log = tmp_path / "log.csv"
    log.write_text(
        log.read_text().replace(",S11,", ",S9,").replace(",N11,", ",N9,")
    )  # the 11 never act: see the next test
    problems = Problems()
    got = read_table_match_into(path, problems)
    assert problems.lines() == [
        "warning: mapping.toml: met no squads; expected the squads. Told from the data: 10 players of North and 9 "
        "players of South. Starters are those among those who act without having been brought on; give [squad] with names and "
        "positions to mend it.",
        "warning: mapping.toml: met no [[period]]; expected the periods with their lengths. Met in the data: 1, 2. "
        "Each lasts to the last row of its own in the data; give [[period]] to mend it.",
        "warning: mapping.toml: met no home_attacks in period 1; expected the direction in which the home side attacks. "
        "Shots and keepers say left; write it in the [[period]] if that is right.",
        "warning: mapping.toml: met no home_attacks in period 2; expected the direction in which the home side attacks. "
        "Shots and keepers say right; write it in the [[period]] if that is right.",
    ]
    assert got is not None
    assert_same_events(got, small.with_data(events=small.events.replace({"S11": "S9", "N11": "N9"})))
    assert not got.players["N12"].starter and got.players["N7"].starter
    assert [p.home_attacks for p in got.periods] == [-1, 1]


def test_a_receiver_whose_side_nothing_tells_is_left_empty_and_kept(tmp_path: Path, small: Match) -> None:
    path = messy.write_messy(small, tmp_path, "metres-centre", "seconds")
    text = path.read_text()
    path.write_text(text[: text.index("[squad]")] + text[text.index("[words.period]") :])
    problems = Problems()
    got = read_table_match_into(path, problems)
    assert [line for line in problems.lines() if "S11" in line] == [
        f"warning: log.csv, row {row}, column 'To': met 'S11', whose side nothing tells; expected a player who acts "
        "for one side. The receiver was left empty; give [squad] to have it."
        for row in np.flatnonzero(small.events["receiver"] == "S11") + 2
    ]
    assert got is not None and got.events["source_receiver"].iloc[0] == "S11" and got.events["receiver"].iloc[0] == ""


def test_unknown_words_are_kept_and_counted(tmp_path: Path, small: Match) -> None:
    path = messy.write_messy(small, tmp_path, "metres-centre", "seconds")
    log = tmp_path / "log.csv"
    log.write_text(log.read_text().replace("Attempt on goal", "Scream"))
    problems = Problems()
    got = read_table_match_into(path, problems)
    shots = int((small.events["kind"] == "shot").sum())
    assert problems.lines() == [
        f"warning: log.csv, row 6, column 'Type of event': met 'Scream', in {shots} rows; expected a word for kind that "
        "the mapping knows. The row was kept with the word in the column 'source_kind'; to have it counted, add it under "
        "[words.kind].",
    ]
    assert got is not None and len(got.events) == len(small.events)
    lost = got.events[got.events["kind"] == ""]
    assert len(lost) == shots and set(lost["source_kind"]) == {"Scream"}


def test_several_tables_and_constants_make_one_events_table(tmp_path: Path, small: Match) -> None:
    path = messy.write_messy(small, tmp_path, "metres-centre", "seconds")
    rows = (tmp_path / "log.csv").read_text().splitlines()
    (tmp_path / "shots.csv").write_text("\n".join([rows[0], *(r for r in rows[1:] if "Attempt" in r)]))
    (tmp_path / "log.csv").write_text("\n".join([rows[0], *(r for r in rows[1:] if "Attempt" not in r)]))
    text = path.read_text()
    events = text[text.index("[[events]]") :]
    shots = events.replace("log.csv", "shots.csv").replace('kind = "Type of event"\n', "")
    path.write_text(text + shots + '[events.always]\nkind = "shot"\n')
    assert_same_events(read_table_match(path), small)


def tracking_text(form: str, swap: str = "") -> tuple[str, str]:
    """Four frames at 10 Hz of three players a side and the ball by hand; N3 leaves after two frames."""
    lines = []
    if form == "wide":
        players = [f"{t}_{s}_{a}" for t in ("home", "away") for s in (1, 2, 3) for a in "xy"]
        lines.append(",".join(["half", "t", *players, "ball_x", "ball_y", "ball_z", "play"]))
        for f in range(4):
            cells = []
            for side in (-1, 1):
                for shirt in (1, 2, 3):
                    gone = side == -1 and shirt == 3 and f >= 2
                    cells += ["", ""] if gone else [f"{side * 10 * shirt + f * 0.5}", f"{shirt + f * 0.25}"]
            lines.append(",".join(["1", f"{f / 10}", *cells, f"{f}", "0", "0.11", "yes" if f else "no"]))
    else:
        lines.append("half,t,who,team,x,y,z,play")
        for f in range(4):
            for side, team in ((-1, "home"), (1, "away")):
                for shirt in (1, 2, 3):
                    if not (side == -1 and shirt == 3 and f >= 2):
                        x, y = side * 10 * shirt + f * 0.5, shirt + f * 0.25
                        lines.append(f"1,{f / 10},{shirt},{team},{x},{y},,{'yes' if f else 'no'}")
            lines.append(f"1,{f / 10},ball,,{f},0,0.11,{'yes' if f else 'no'}")
    columns = {"period": "half", "time": "t", "alive": "play"}
    if form == "wide":
        extra = 'pattern = "{team}_{shirt}_{axis}"'
        columns |= {f"ball_{a}": f"ball_{a}" for a in "xyz"}
    else:
        extra = ""
        columns |= {"player": "who", "team": "team", "x": "x", "y": "y", "z": "z"}
    toml = (
        "mapping = 1\n[[period]]\nnumber = 1\nduration = 60\nhome_attacks = 'right'\n[squad]\nplayers_are = 'shirts'\n"
        f"[tracking]\nfile = 'pos.csv'\nform = '{form}'\n{extra}\n[tracking.columns]\n"
        + "".join(f"{k} = '{v}'\n" for k, v in columns.items())
    )
    return "\n".join(lines), toml


@pytest.mark.parametrize("form", ["wide", "long"])
def test_tracking_wide_and_long_give_the_same_arrays(tmp_path: Path, form: str) -> None:
    table, toml = tracking_text(form)
    (tmp_path / "pos.csv").write_text(table)
    (tmp_path / "m.toml").write_text(toml)
    match = read_table_match(tmp_path / "m.toml")
    t = match.tracking
    assert t is not None
    assert t.rate_hz == 10.0
    assert t.players == ("home-1", "home-2", "home-3", "away-1", "away-2", "away-3")
    assert t.team_index.tolist() == [0, 0, 0, 1, 1, 1]
    # By hand: frame 1 of shirt 2 away: 20 + 0.5, 2 + 0.25.
    np.testing.assert_allclose(t.xy[1, 4], [20.5, 2.25])
    assert np.isnan(t.xy[2:, 2]).all() and not np.isnan(t.xy[:2]).any()
    np.testing.assert_allclose(t.ball[3], [3, 0, 0.11])
    assert t.alive.tolist() == [False, True, True, True]
    np.testing.assert_allclose(t.time_s, [0, 0.1, 0.2, 0.3])


def test_long_rows_may_come_player_by_player(tmp_path: Path) -> None:
    table, toml = tracking_text("long")
    header, *rows = table.splitlines()
    rows.sort(key=lambda r: (r.split(",")[3], r.split(",")[2]))
    (tmp_path / "pos.csv").write_text("\n".join([header, *rows]))
    (tmp_path / "m.toml").write_text(toml)
    t = read_table_match(tmp_path / "m.toml").tracking
    assert t is not None
    np.testing.assert_allclose(t.xy[1, 4], [20.5, 2.25])


def test_whole_minutes_and_seconds_of_tracking_are_not_taken_for_hours(tmp_path: Path) -> None:
    table, toml = tracking_text("wide")
    header, *rows = table.splitlines()
    rows = [",".join([r.split(",")[0], f"00:{i:02d}", *r.split(",")[2:]]) for i, r in enumerate(rows)]
    (tmp_path / "pos.csv").write_text("\n".join([header, *rows]))
    (tmp_path / "m.toml").write_text(toml.replace("[tracking]\n", "[clock]\nform = 'mm:ss'\n[tracking]\n"))
    t = read_table_match(tmp_path / "m.toml").tracking
    assert t is not None
    np.testing.assert_allclose(t.time_s, [0, 1, 2, 3])


@pytest.mark.parametrize("suffix", [".xlsx", ".parquet"])
def test_tracking_from_excel_and_parquet(tmp_path: Path, suffix: str) -> None:
    table, toml = tracking_text("wide")
    (tmp_path / "pos.csv").write_text(table)
    (tmp_path / "m.toml").write_text(toml)
    want = read_table_match(tmp_path / "m.toml").tracking
    frame = pd.read_csv(tmp_path / "pos.csv")
    if suffix == ".parquet":
        frame.to_parquet(tmp_path / "pos.parquet")
    else:
        frame.to_excel(tmp_path / "pos.xlsx", index=False)
    (tmp_path / "m.toml").write_text(toml.replace("pos.csv", f"pos{suffix}"))
    got = read_table_match(tmp_path / "m.toml").tracking
    assert got is not None and want is not None
    np.testing.assert_array_equal(got.xy, want.xy)
    np.testing.assert_array_equal(got.ball, want.ball)
    assert got.alive.tolist() == want.alive.tolist() and got.rate_hz == want.rate_hz


def test_progress_is_told(tmp_path: Path) -> None:
    table, toml = tracking_text("wide")
    (tmp_path / "pos.csv").write_text(table)
    (tmp_path / "m.toml").write_text(toml)
    told: list[tuple[str, float]] = []
    read_table_match(tmp_path / "m.toml", lambda text, share: told.append((text, share)))
    assert told == [
        ("reading pos.csv", 0.1),
        ("placing the players", 0.4),
        ("putting the match together", 0.7),
        ("checking", 0.8),
        ("done", 1.0),
    ]


def test_frames_as_the_clock_and_a_home_frame(tmp_path: Path) -> None:
    table, toml = tracking_text("wide")
    header, *rows = table.splitlines()
    rows = [",".join([r.split(",")[0], str(1000 + i), *r.split(",")[2:]]) for i, r in enumerate(rows)]
    (tmp_path / "pos.csv").write_text("\n".join([header, *rows]))
    toml = toml.replace("'right'", "'left'\nfirst_frame = 1000")
    toml = toml.replace(
        "[tracking]\n", "[coordinates]\nframe = 'home'\n[clock]\nform = 'frames'\n[tracking]\nrate_hz = 10\n"
    )
    (tmp_path / "m.toml").write_text(toml)
    t = read_table_match(tmp_path / "m.toml").tracking
    assert t is not None
    np.testing.assert_allclose(t.time_s, [0, 0.1, 0.2, 0.3])
    np.testing.assert_allclose(t.xy[1, 4], [-20.5, -2.25])  # turned by 180 degrees: the home side attacks to the left
    np.testing.assert_allclose(t.ball[3], [-3, 0, 0.11])


def test_the_files_are_left_as_they_are_and_the_same_input_gives_the_same_match(tmp_path: Path, small: Match) -> None:
    path = messy.write_messy(small, tmp_path, "per-cent-top-left", "match-mmss", "attacking")
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    first, second = read_table_match(path), read_table_match(path)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    pd.testing.assert_frame_equal(first.events, second.events)
