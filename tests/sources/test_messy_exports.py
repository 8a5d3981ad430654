"""Six tables as people export them, read through a draft whose questions are answered; invented demonstration data.

Source of the conventions: everyday spreadsheets; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from tactical_kit.match import Match
from tactical_kit.sources.checks import check_files
from tactical_kit.sources.draft import draft_mapping
from tactical_kit.sources.problems import InputError
from tactical_kit.sources.tables import read_table_match

MINUTES = (
    "times are good to the minute only; if there is one, name it under [events.columns] and write "
    'form = "minute and second".'
)


def events() -> list[dict[str, float | str]]:
    """120 events: x and y in per cent of the pitch in the attacking direction, y from the bottom."""
    random = np.random.default_rng(4)
    made: list[dict[str, float | str]] = []
    for half in (1, 2):
        for k in range(60):
            kind = "Shot" if k % 6 in (0, 1) else "Pass"
            made.append(
                {
                    "half": half, "t": 20.0 + 47 * k, "side": "AB"[k % 2], "kind": kind, "who": 2 + k % 9,
                    "x": round(float(random.uniform(75, 99) if kind == "Shot" else random.uniform(1, 99)), 1),
                    "y": round(float(random.uniform(1, 99)), 1),
                }
            )  # fmt: skip
    return made


def clock(event: dict) -> float:
    """Seconds on the match clock: the second half starts at 45:00 (Law 7)."""
    return event["t"] + (2700 if event["half"] == 2 else 0)


def read(table: Path, answers: Sequence[tuple[str, str]] = ()) -> tuple[Match, list[str], list[str]]:
    """Draft, answer, read: the match, the doubts, and the notes of the check."""
    text, doubts = draft_mapping(table)
    for question, answer in answers:
        assert question in text
        text = text.replace(question, answer)
    mapping = table.with_suffix(".toml")
    mapping.write_text(text, "utf-8")
    report = check_files(mapping)
    assert report.errors == []
    return read_table_match(mapping), doubts, report.lines()


def assert_events(match: Match, home: str, tolerance_s: float = 0.1, places: bool = True) -> None:
    """The match holds `events`, the side `home` ("A" or "B") at home."""
    got, want = match.events, sorted(events(), key=lambda e: (e["half"], e["t"]))
    assert got is not None and len(got) == len(want)
    assert got["period"].tolist() == [e["half"] for e in want]
    assert got["kind"].tolist() == [str(e["kind"]).lower() for e in want]
    np.testing.assert_allclose(got["time_s"], [e["t"] for e in want], atol=tolerance_s)
    ids = {home: match.home.team_id, {"A": "B", "B": "A"}[home]: match.away.team_id}
    assert got["team"].tolist() == [ids[str(e["side"])] for e in want]
    if places:
        for row, e in zip(got.itertuples(), want, strict=True):
            sign = match.attack_sign(row.team, row.period)
            x, y = (float(e["x"]) / 100 - 0.5) * 105, (float(e["y"]) / 100 - 0.5) * 68
            assert (row.x * sign, row.y * sign) == pytest.approx((x, y), abs=0.15)


def test_semicolons_decimal_commas_and_names_in_any_case(tmp_path: Path) -> None:
    lines = ["Half;Minute;Second;Event;Team;Player;X;Y"]
    for i, e in enumerate(events()):
        team = (("Reds", " reds", "REDS "), ("Blues", "blues", "Blues"))[e["side"] == "B"][i // 2 % 3]
        second, x, y = (f"{v:.1f}".replace(".", ",") for v in (clock(e) % 60, e["x"], e["y"]))
        half = ("1st half", "2nd half")[e["half"] == 2]
        lines.append(f"{half};{int(clock(e) // 60)};{second};{e['kind']};{team};{e['who']};{x};{y}")
    (tmp_path / "log.csv").write_text("\n".join(lines))
    match, doubts, _ = read(tmp_path / "log.csv")
    assert "Which side is at home is not in the table: 'Blues' was taken for the home side." in doubts
    assert "The players were taken to be named by their shirt numbers." in doubts
    assert_events(match, home="B")
    assert {p.shirt for p in match.home.players} <= set(range(2, 11))


def test_yards_from_the_top_left_below_a_title_and_with_a_total(tmp_path: Path) -> None:
    lines = ['"Reds v Blues, round 7"', "", "Time,Half,Action,Side,Name,X (yd),Y (yd)"]
    for e in events():
        turned = (e["side"] == "A") != (e["half"] == 1)  # the sides change ends
        x, y = (100 - e["x"], 100 - e["y"]) if turned else (e["x"], e["y"])
        side = {"A": "Home", "B": "Away"}[str(e["side"])]
        t = f"{int(e['t'] // 60):02d}:{e['t'] % 60:04.1f}"
        yards = f"{x * 1.05 / 0.9144:.2f},{(100 - y) * 0.68 / 0.9144:.2f}"
        lines.append(f"{t},{e['half']},{e['kind']},{side},{e['side']}{e['who']},{yards}")
    (tmp_path / "log.csv").write_text("\n".join([*lines, "Total,,,,120,,"]))
    match, doubts, notes = read(tmp_path / "log.csv", [('origin = "bottom-left"  # ?', 'origin = "top-left"')])
    assert doubts[:2] == [
        "The header was taken to be row 3: 'Reds v Blues, round 7' stands above it.",
        "Totals or notes, left out: row 124.",
    ]
    assert notes[0] == (
        "warning: log.csv, row 124: met 'Total', a total or a note; expected an event. The row was left out."
    )
    assert_events(match, home="A")


def test_a_workbook_with_a_title_merged_sides_and_whole_minutes(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Match sheet", "", "", "3 May"])
    sheet.append([])
    sheet.append(["Home/Away", "Half", "Min", "Event", "Player", "x", "y"])
    for side, word in (("A", "Home"), ("B", "Away")):
        start = sheet.max_row + 1
        for e in [e for e in events() if e["side"] == side]:
            sheet.append([word, e["half"], int(clock(e) // 60), e["kind"], e["who"], e["x"], e["y"]])
        sheet.merge_cells(start_row=start, end_row=sheet.max_row, start_column=1, end_column=1)
    book.save(tmp_path / "log.xlsx")
    match, doubts, notes = read(tmp_path / "log.xlsx")
    assert doubts[:3] == [
        "The header was taken to be row 3: 'Match sheet' stands above it.",
        f"There is a column of minutes and none of seconds: {MINUTES}",
        "Column 'Home/Away' is empty in 118 of 120 rows: merged cells were supposed, which hold for the rows below "
        "(fill_down).",
    ]
    assert notes[0] == (
        "warning: log.xlsx, column 'Min': met a clock of whole minutes; expected seconds. Times are good to the minute "
        "only: rows of one minute keep the order of the file, and what needs seconds (phases, passes in a row, pictures "
        "of tracking) is rough."
    )
    got = match.events
    assert got is not None and set(got["time_s"] % 60) == {0.0}
    ids = {"A": match.home.team_id, "B": match.away.team_id}
    # The sides stood one below the other: who came first within a minute is not in the table.
    met = zip(got["period"], got["time_s"] // 60, got["team"], got["kind"], strict=True)
    want = ((e["half"], e["t"] // 60, ids[str(e["side"])], str(e["kind"]).lower()) for e in events())
    assert sorted(met) == sorted(want)


def test_minutes_of_added_time_tell_the_halves(tmp_path: Path) -> None:
    lines = ["Minute,Event,Team,Player"]
    for e in events():
        minute, base = int(e["t"] // 60), (0, 45)[e["half"] == 2]
        text = f"{base + 45}+{minute - 45}'" if minute >= 45 else f"{base + minute}'"
        lines.append(f"{text},{e['kind']},{'Town' if e['side'] == 'A' else 'City'},{e['side']}{e['who']}")
    assert "45+1'" in "".join(lines) and "90+1'" in "".join(lines)
    (tmp_path / "log.csv").write_text("\n".join(lines))
    match, doubts, _ = read(tmp_path / "log.csv")
    assert (
        "The clock runs past an hour and no column tells the halves apart: the second was taken to begin at 45:00 on it "
        "(clock_start)." in doubts
    )
    assert_events(match, home="B", tolerance_s=60, places=False)


def test_thousands_in_milliseconds_and_centimetres(tmp_path: Path) -> None:
    lines = ["half;ms;type;team;player;x;y"]
    for e in events():
        ms, x, y = (f"{round(v):,}" for v in (e["t"] * 1000, e["x"] * 105, e["y"] * 68))
        lines.append(f"{e['half']};{ms};{e['kind']};{e['side']};{e['side']}{e['who']};{x};{y}")
    (tmp_path / "log.csv").write_text("\n".join(lines))
    match, doubts, _ = read(tmp_path / "log.csv")
    assert doubts[0] == "Numbers were taken to have commas between the thousands."
    assert_events(match, home="A")


def test_notes_above_and_below_tabs_and_points_between_the_thousands(tmp_path: Path) -> None:
    swap = str.maketrans(",.", ".,")
    lines = ["Competition\tCup", "Date\t03.05.2026", "Venue\tNötting"]
    lines.append("Period\tSeconds\tEvent type\tTeam\tPlayer name\tStart X\tStart Y")
    for e in events():
        values = f"{e['t']:,.1f}", f"{e['x'] * 1.05 - 52.5:.2f}", f"{e['y'] * 0.68 - 34:.2f}"
        t, x, y = (v.translate(swap) for v in values)
        team = {"A": "Nötting", "B": "Süd"}[str(e["side"])]
        lines.append(f"{e['half']}\t{t}\t{e['kind']}\t{team}\t{e['side']}{e['who']}\t{x}\t{y}")
    (tmp_path / "log.csv").write_bytes("\r\n".join([*lines, "Source: own notes\t\t\t\t\t\t"]).encode("cp1252"))
    match, doubts, notes = read(tmp_path / "log.csv")
    assert doubts[:4] == [
        "The file is not UTF-8; cp1252 (Western European) was taken: check names with accents.",
        "The header was taken to be row 4: 'Competition' stands above it.",
        "Numbers were taken to have points between the thousands.",
        "Totals or notes, left out: row 125.",
    ]
    assert notes[0] == (
        "warning: log.csv, row 125: met 'Source: own notes', a total or a note; expected an event. The row was left out."
    )
    assert_events(match, home="A")


# -- what is refused, and the words that mend it -----------------------------------------------------------

SMALL = """\
mapping = 1
[match]
home = "Reds"
away = "Blues"
[[period]]
number = 1
duration = 2700
home_attacks = "right"
[[events]]
file = "log.csv"
{more}[events.columns]
time = "t"
kind = "what"
team = "side"
player = "who"
x = "x"
y = "y"
"""
ROWS = "t,what,side,who,x,y\n1,pass,Reds,a,0,0\n2,pass,Blues,b,1,1\n"


def refused(folder: Path, table: str, more: str = "") -> list[str]:
    (folder / "log.csv").write_text(table)
    (folder / "log.toml").write_text(SMALL.format(more=more))
    with pytest.raises(InputError) as caught:
        read_table_match(folder / "log.toml")
    return str(caught.value).splitlines()[1:]


def test_a_title_is_refused_with_the_words_that_mend_it(tmp_path: Path) -> None:
    table = "Reds v Blues\n\n" + ROWS
    assert refused(tmp_path, table) == [
        "log.csv, row 1: met the title 'Reds v Blues'; expected the header in the first row. The header seems to be row "
        "3: write header_row = 3 beside file in the mapping."
    ]
    assert refused(tmp_path, table, "header_row = 2\n") == [
        "log.csv, row 2: met an empty row; expected the header, as header_row says. The header seems to be row 3: mend "
        "header_row in the mapping."
    ]
    (tmp_path / "log.toml").write_text(SMALL.format(more="header_row = 3\n"))
    events = read_table_match(tmp_path / "log.toml").events
    assert events is not None and events["time_s"].tolist() == [1.0, 2.0]
    assert refused(tmp_path, table + "x,pass,Reds,a,0,0\n", "header_row = 3\n") == [
        "log.csv, row 6, column 't': met 'x'; expected a number. Mend the cell, or leave it empty."
    ]


def test_thousands_are_refused_with_the_key_that_reads_them(tmp_path: Path) -> None:
    table = ROWS + '"1,002",pass,Reds,a,0,0\n"1 003.5",pass,Reds,a,0,0\n'
    assert refused(tmp_path, table) == [
        "log.csv, row 4, column 't': met '1,002'; expected a number. If commas part the thousands, write thousands = "
        '"," in the mapping; if it is a decimal comma, decimal = ",".',
        "log.csv, row 5, column 't': met '1 003.5'; expected a number. If blanks part the thousands, write thousands = "
        '" " in the mapping.',
    ]
    assert refused(tmp_path, table, 'thousands = ","\n') == [
        "log.csv, row 5, column 't': met '1 003.5'; expected a number. Mend the cell, or leave it empty."
    ]


def test_a_row_without_time_and_kind_is_one_fault(tmp_path: Path) -> None:
    assert refused(tmp_path, ROWS + ",,Reds,a,5,5\nTotal,,,,,9\n") == [
        "log.csv, row 4: met 'Reds' …, a row without time and kind; expected an event. Remove the row, or fill in its "
        "time and kind.",
        "warning: log.csv, row 5: met 'Total', a total or a note; expected an event. The row was left out.",
    ]


def test_a_minute_without_seconds_says_how_to_read_it(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(ROWS)
    text = SMALL.format(more="").replace('time = "t"', 'minute = "t"')
    text = text.replace("[[events]]", '[clock]\nform = "minute and second"\n[[events]]')
    (tmp_path / "log.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_table_match(tmp_path / "log.toml")
    assert str(caught.value).splitlines()[1:] == [
        "log.toml, row 13, column 'events.columns': met no column for 'second'; expected the columns minute, second. "
        'Write second = "the header of the column" under [events.columns]; a table of whole minutes has form = "minutes" '
        "under [clock]."
    ]
