"""The corpus of broken inputs: each is refused, or loads with a note, in exactly the lines that it states.

A file of corpus/ holds one case:

    # what is wrong, in a sentence
    === match.toml
    ... (the text of that file; "(cp1252)" behind its name is its encoding, \\0 a zero byte)
    === expected: refused | loads with a note | loads
    ... (the whole report, line by line)

Inputs that are no text are built below.  Every case is invented; expectations are this project's own wording.
"""

from __future__ import annotations

import csv
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from tactical_kit.moments import Moments
from tactical_kit.sources import check_files, read_table_match, safe_csv, write_events_csv, write_table
from tactical_kit.sources.problems import InputError

CORPUS = Path(__file__).parent / "corpus"
CASES = sorted(p.stem for p in CORPUS.glob("*.txt"))


def lay_out(case: str, folder: Path) -> tuple[str, list[str]]:
    """Write the files of a case into a folder; return the verdict and the lines that it expects."""
    parts = re.split(r"^=== ", (CORPUS / f"{case}.txt").read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]
    verdict, lines, last = "", [], Path()
    for part in parts:
        head, _, body = part.partition("\n")
        if head.startswith("expected: "):
            verdict, lines = head.removeprefix("expected: "), body.splitlines()
        elif head == "no newline at the end":
            last.write_bytes(last.read_bytes().removesuffix(b"\n"))
        else:
            name, encoding = re.fullmatch(r"(\S+)(?: \((\S+)\))?", head).groups()  # type: ignore[union-attr]
            last = folder / name
            last.write_bytes(body.replace("\\0", "\0").encode(encoding or "utf-8"))
    return verdict, lines


def test_the_corpus_is_there() -> None:
    assert len(CASES) >= 135


@pytest.mark.parametrize("case", CASES)
def test_case(case: str, tmp_path: Path) -> None:
    verdict, lines = lay_out(case, tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    report = check_files(tmp_path / "match.toml")
    assert report.lines() == lines
    if verdict == "refused":
        assert report.errors and not report.sound
        with pytest.raises(InputError) as caught:
            read_table_match(tmp_path / "match.toml")
        head = re.fullmatch(r"(\d+) problems?; nothing was loaded\.", str(caught.value).splitlines()[0])
        assert head and int(head[1]) >= len(report.errors)
        assert str(caught.value).splitlines()[1:] == lines
    else:
        assert verdict == ("loads with a note" if lines else "loads")
        assert read_table_match(tmp_path / "match.toml").level in ("events", "tracking")
        assert len(report.sound) == 1
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


# -- inputs that are no text ----------------------------------------------------------------------------

MAPPING = """mapping = 1
[[period]]
number = 1
duration = 2700
home_attacks = "right"
[[events]]
file = "{file}"
{extra}
[events.columns]
time = "time"
kind = "event"
team = "team"
player = "player"
"""
ROWS = [["time", "event", "team", "player"], [0, "pass", "home", "h1"], [5, "pass", "away", "a1"]]


def excel(path: Path, sheet: str = "log", rows: list[list[object]] = ROWS) -> Path:
    book = openpyxl.Workbook()
    book.active.title = sheet
    for row in rows:
        book[sheet].append(row)
    book.save(path)
    return path


def parquet(path: Path) -> Path:
    pd.DataFrame(ROWS[1:], columns=ROWS[0]).to_parquet(path)
    return path


def zipped(path: Path) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("events.csv", "time,event\n")
    return path


def put(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def cut(path: Path, share: float = 0.5) -> Path:
    data = path.read_bytes()
    return put(path, data[: int(len(data) * share)])


def csv_rows(path: Path, rows: list[list[object]]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    return path


NOTES = "one of 'notes'. Mend sheet = in the mapping."
BUILT: dict[str, tuple[str, str, Callable[[Path], object], list[str]]] = {
    "zip-named-parquet": ("events.parquet", "", zipped, [
        "events.parquet: met a zip archive; expected a Parquet file. Rename the file to what it is, or export it again.",
    ]),
    "zip-named-xlsx": ("events.xlsx", "", zipped, [
        "events.xlsx: met a damaged workbook (KeyError); expected an Excel file (.xlsx). Save it again as .xlsx.",
    ]),
    "zip-named-csv": ("events.csv", "", zipped, [
        "events.csv: met a zip archive; expected text with delimiters. Unpack it, or rename it to what it is.",
    ]),
    "parquet-named-csv": ("events.csv", "", parquet, [
        "events.csv: met a Parquet file; expected text with delimiters. Unpack it, or rename it to what it is.",
    ]),
    "csv-named-parquet": ("events.parquet", "", lambda p: csv_rows(p, ROWS), [
        "events.parquet: met something else; expected a Parquet file. Rename the file to what it is, or export it again.",
    ]),
    "csv-named-xlsx": ("events.xlsx", "", lambda p: csv_rows(p, ROWS), [
        "events.xlsx: met something else; expected an Excel file (.xlsx). Rename the file to what it is, or save it again "
        "as .xlsx.",
    ]),
    "gzip-named-csv": ("events.csv", "", lambda p: put(p, b"\x1f\x8b\x08\0\0\0\0\0"), [
        "events.csv: met a gzip archive; expected text with delimiters. Unpack it, or rename it to what it is.",
    ]),
    "old-excel": ("events.csv", "", lambda p: put(p, b"\xd0\xcf\x11\xe0" + b"\0" * 60), [
        "events.csv: met an old Excel file (.xls); expected text with delimiters. Unpack it, or rename it to what it is.",
    ]),
    "xlsx-wrong-sheet": ("events.xlsx", 'sheet = "log"', lambda p: excel(p, "notes"), [
        f"events.xlsx: met no sheet 'log'; expected {NOTES}",
    ]),
    "xlsx-sheet-misspelled": ("events.xlsx", 'sheet = "Log"', excel, [
        "events.xlsx: met no sheet 'Log'; expected one of 'log'. Mend sheet = in the mapping. Did you mean 'log'?",
    ]),
    "xlsx-cut-off": ("events.xlsx", "", lambda p: cut(excel(p)), [
        "events.xlsx: met a damaged workbook (BadZipFile); expected an Excel file (.xlsx). Save it again as .xlsx.",
    ]),
    "xlsx-empty-sheet": ("events.xlsx", "", lambda p: excel(p, rows=[]), [
        "events.xlsx: met no cell with content; expected a header and rows. Check that the export is whole.",
    ]),
    "xlsx-error-cell": ("events.xlsx", "", lambda p: excel(p, rows=[*ROWS, ["#DIV/0!", "pass", "home", "h1"]]), [
        "events.xlsx, row 4, column 'time': met '#DIV/0!'; expected a number. Mend the cell, or leave it empty.",
    ]),
    "cell-too-long": ("events.csv", "", lambda p: csv_rows(p, [*ROWS, [7, "x" * 140_000, "home", "h1"]]), [
        "events.csv, row 4: met a cell of more than 131,072 characters; expected cells in quotes, inner quotes doubled. "
        "Check the quotes from this row on.",
    ]),
    "many-bad-rows": ("events.csv", "", lambda p: csv_rows(p, [ROWS[0], *[["?", "pass", "home", "h1"]] * 1000]), [
        *(f"events.csv, row {r}, column 'time': met '?'; expected a number. Mend the cell, or leave it empty."
          for r in range(2, 7)),
        "events.csv, column 'time': 995 more of the same (expected a number).",
    ]),
}  # fmt: skip


@pytest.mark.parametrize("case", list(BUILT))
def test_built_case(case: str, tmp_path: Path) -> None:
    name, extra, build, lines = BUILT[case]
    build(tmp_path / name)
    mapping = tmp_path / "match.toml"
    mapping.write_text(MAPPING.format(file=name, extra=extra))
    with pytest.raises(InputError) as caught:
        read_table_match(mapping)
    assert str(caught.value).splitlines()[1:] == lines
    assert check_files([mapping]).lines() == lines


def test_bytes_changed_at_random_never_end_in_anything_but_a_report(tmp_path: Path) -> None:
    random = np.random.default_rng(20260503)
    for case in CASES[::9]:
        lay_out(case, tmp_path)
        for path in [p for p in tmp_path.iterdir() if p.stat().st_size]:
            whole = path.read_bytes()
            for _ in range(4):
                data = bytearray(whole)
                for place in random.integers(0, len(data), 3):
                    data[place] = int(
                        random.choice([0, 9, 10, 34, 39, 44, 45, 46, 48, 57, 61, 91, 93, 101, 123, 195, 255])
                    )
                path.write_bytes(data[: random.integers(1, len(data) + 1)] if random.random() < 0.3 else data)
                report = check_files(tmp_path / "match.toml")
                assert report.errors or report.sound
            path.write_bytes(whole)


def test_a_parquet_file_that_is_cut_off_is_refused(tmp_path: Path) -> None:
    cut(parquet(tmp_path / "events.parquet"))
    (tmp_path / "match.toml").write_text(MAPPING.format(file="events.parquet", extra=""))
    (line,) = check_files(tmp_path / "match.toml").lines()
    # What stands in the brackets is pyarrow's and may change with it.
    assert re.fullmatch(
        r"events\.parquet: met a damaged Parquet file \(.*; expected a whole Parquet file\. Export it again\.", line
    )


def test_a_symbolic_link_does_not_lead_out_of_the_folder(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    csv_rows(tmp_path / "events.csv", ROWS)
    (inside / "events.csv").symlink_to(tmp_path / "events.csv")
    (inside / "match.toml").write_text(MAPPING.format(file="events.csv", extra=""))
    assert check_files(inside / "match.toml").lines() == [
        "match.toml, row 7, column 'events.file': met 'events.csv'; expected a file in the folder of the mapping or below "
        "it. Copy the file there, or put the mapping beside it."
    ]


def test_a_nested_json_bomb_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "match"
    folder.mkdir()
    (folder / "match.json").write_text("[" * 100_000 + "]" * 100_000)
    parquet(folder / "events.parquet")
    assert check_files(folder).lines() == [
        "match.json, row 1: met brackets nested more than 40 deep; expected at most 40 levels. This is not a file of this "
        "kind; look where it comes from."
    ]


def test_what_is_no_match_is_named(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    put(tmp_path / "film.mp4", b"0000")
    forms = (
        "expected a match folder, Common Data Format files, a mapping (.toml) or a table (.csv, .xlsx, .parquet). "
        "Export the data in one of these forms."
    )
    report = check_files([tmp_path / "nowhere.csv", tmp_path / "empty", tmp_path / "film.mp4"])
    assert report.lines() == [
        "nowhere.csv: met no such file or folder; expected a file or folder. Check the path.",
        f"empty: met a folder of something else; {forms}",
        f"film.mp4: met a file that ends in .mp4; {forms}",
    ]


def test_a_bare_table_gets_a_draft(tmp_path: Path) -> None:
    path = csv_rows(tmp_path / "log.csv", ROWS)
    report = check_files(path)
    draft = report.drafts[path]
    assert report.lines() == [
        "log.csv: met a table without a mapping; expected a mapping (.toml) that says how to read it. One can be drafted, "
        f"unsure of {len(draft.doubts)} things: `tactical-kit check log.csv --mapping log.toml` saves it; answer the "
        "question marks, then check the mapping."
    ]
    assert 'file = "log.csv"' in draft.text
    assert not (tmp_path / "log.toml").exists()


# -- names are data ---------------------------------------------------------------------------------------


def test_html_in_a_name_is_data_and_escaped_where_it_is_shown(tmp_path: Path) -> None:
    lay_out("name-html", tmp_path)
    match = read_table_match(tmp_path / "match.toml")
    name = match.players["h2"].name
    assert name == "<script>alert(1)</script>" and match.away.name == "<b>Away</b>"
    rows = [{"period": 1, "start_s": 0.0, "end_s": 1.0, "team": match.away.name, "players": (name,), "who": name}]
    html = Moments.build("demo", rows, {"who": "str"})._repr_html_()
    assert "<script>" not in html and "<b>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html and "&lt;b&gt;Away&lt;/b&gt;" in html


def test_a_formula_in_a_name_is_data_and_harmless_in_what_goes_out(tmp_path: Path) -> None:
    lay_out("name-formula", tmp_path)
    match = read_table_match(tmp_path / "match.toml")
    assert match.players["h2"].name == "=HYPERLINK(1)"
    assert match.events["source_outcome"].tolist().count("=1+1") == 1
    out = write_events_csv(match, tmp_path / "out.csv")
    with out.open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert "'=HYPERLINK(1)" in cells and "'=1+1" in cells and "'@e4" in cells
    numbers = [c for c in cells if re.fullmatch(r"-\d+(\.\d+)?", c)]
    assert "-41.0" in numbers  # a negative number is a number
    assert not [c for c in cells if c.startswith(("=", "+", "@", "\t", "\r"))]
    assert write_events_csv(match, tmp_path / "again.csv").read_bytes() == out.read_bytes()


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_every_start_of_a_formula_is_made_harmless(start: str) -> None:
    assert safe_csv(f"{start}1") == f"'{start}1"
    assert safe_csv(f"a{start}1") == f"a{start}1"


def test_headers_and_tuples_of_a_table_that_goes_out_are_made_harmless(tmp_path: Path) -> None:
    table = pd.DataFrame({"=cmd": [("-a", "b"), ("c",)], "x": [-1.5, 2.0], "ok": [True, False]})
    assert write_table(table, tmp_path / "t.csv").read_text() == "'=cmd,x,ok\n'-a b,-1.5,True\nc,2.0,False\n"
    assert [p.name for p in tmp_path.iterdir()] == ["t.csv"]
