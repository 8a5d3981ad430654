"""Opens CSV, Excel and Parquet files as sheets of cells whose rows count as the user's program counts them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import zipfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tactical_kit.errors import suggest
from tactical_kit.sources.problems import Problems

__all__ = ["Sheet", "arrow_table", "decode", "delimiter_of", "find_delimiter", "open_sheet"]

MAX_TEXT_BYTES = 400_000_000  # a cell by cell reading of more than this would fill the memory
MAX_CELL = 131_072  # characters of one cell, the limit of the csv module
_DELIMITERS = (",", ";", "\t", "|")
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


@dataclass(frozen=True, eq=False)
class Sheet:
    """Cells of a table as text.

    Parameters
    ----------
    path : Path
        The file.
    columns : tuple of str
        Headers, blanks around them cut.
    cells : dict of str to (N,) object ndarray
        The text of each column; "" is an empty cell.
    rows : (N,) int64 ndarray
        Row of each record as a spreadsheet counts it: the header is row 1.
    whole : bool
        False if a row had to be left out, which has been said.
    broken : frozenset of str
        Headers that occur twice, which has been said; their cells are not used.
    header_row : int
        Row of the header.
    title : str
        The first text that stands above the header; "" if there is none.
    """

    path: Path
    columns: tuple[str, ...]
    cells: dict[str, NDArray[np.object_]]
    rows: NDArray[np.int64]
    whole: bool = True
    broken: frozenset[str] = frozenset()
    header_row: int = 1
    title: str = ""

    def __len__(self) -> int:
        return len(self.rows)


def open_sheet(
    path: Path,
    problems: Problems,
    sheet: str = "",
    delimiter: str = "",
    encoding: str = "",
    max_rows: int | None = None,
    header_row: int | None = 0,
) -> Sheet | None:
    """Read a table as text; faults go to `problems`, and None comes back if the file cannot be read.

    Parameters
    ----------
    path : Path
        A file that ends in .xlsx, .parquet, or anything else for text with delimiters.
    sheet : str
        Sheet of an Excel file; the first one if empty.
    delimiter, encoding : str
        Told from the file if empty: the delimiter from the header; UTF-8 unless a mark at the start says UTF-16.
    max_rows : int, optional
        Read only the first rows, for a look at a file.
    header_row : int, optional
        Row of the header; 0 for the first row with content, which is refused where it looks like a title; None
        to look for it.
    """
    try:
        head = path.open("rb").read(8)
        size = path.stat().st_size
    except OSError as error:
        problems.add(path, error.strerror or "a file that cannot be opened", "a table", "Check the path.")
        return None
    if size == 0:
        problems.add(path, "an empty file", "a header and rows", "Check that the export is whole.")
        return None
    suffix = path.suffix.lower()
    if not _true_to_name(path, head, suffix, problems):
        return None
    if suffix in (".xlsx", ".xlsm"):
        lines = _excel_lines(path, sheet, problems, max_rows)
    elif suffix == ".parquet":
        lines = _parquet_lines(path, problems, max_rows)
    else:
        if size > MAX_TEXT_BYTES:
            problems.add(
                path, f"{size:,} bytes", f"at most {MAX_TEXT_BYTES:,} bytes", "Split the file, or save it as Parquet."
            )
            return None
        lines = _text_lines(path, delimiter, encoding, problems, max_rows)
    return None if lines is None else _sheet_of(path, lines, problems, header_row)


def _true_to_name(path: Path, head: bytes, suffix: str, problems: Problems) -> bool:
    kinds = {
        b"PK\x03\x04": "a zip archive",
        b"PAR1": "a Parquet file",
        b"%PDF": "a PDF file",
        b"\xd0\xcf\x11\xe0": "an old Excel file (.xls)",
    }
    kind = kinds.get(head[:4], "something else")
    if head[:2] == b"\x1f\x8b":
        kind = "a gzip archive"
    if suffix == ".parquet" and head[:4] != b"PAR1":
        problems.add(path, kind, "a Parquet file", "Rename the file to what it is, or export it again.")
    elif suffix in (".xlsx", ".xlsm") and head[:4] != b"PK\x03\x04":
        problems.add(path, kind, "an Excel file (.xlsx)", "Rename the file to what it is, or save it again as .xlsx.")
    elif suffix not in (".parquet", ".xlsx", ".xlsm") and kind != "something else":
        problems.add(path, kind, "text with delimiters", "Unpack it, or rename it to what it is.")
    elif suffix not in (".parquet", ".xlsx", ".xlsm") and head[:1] in (b"{", b"["):
        problems.add(path, "JSON", "text with delimiters", "Export it as a table.")
    else:
        return True
    return False


# -- text ---------------------------------------------------------------------------------------------


def decode(data: bytes, path: Path, encoding: str, problems: Problems) -> str | None:
    """Decode bytes: by the mark at their start, by the encoding named, or as UTF-8; None if they do not fit."""
    marked = next((name for mark, name in _MARKS if data.startswith(mark)), "")
    name = encoding or marked or "utf-8"
    if marked == "utf-8-sig" and name.lower().replace("_", "-") in ("utf-8", "utf8"):
        name = "utf-8-sig"
    try:
        return data.decode(name)
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        odd = data[error.start : error.start + 1]
        hint = 'Name the encoding in the mapping, as encoding = "cp1252", or save the file as UTF-8.'
        if b"\0" in data[:200]:
            hint = 'It may be UTF-16: write encoding = "utf-16" in the mapping, or save the file as UTF-8.'
        problems.add(path, f"the byte 0x{odd.hex()}", f"text in {name.removesuffix('-sig').upper()}", hint, row)
    except UnicodeError as error:
        problems.add(path, str(error), f"text in {name.upper()}", "Check the encoding.")
    return None


def find_delimiter(header: str) -> str:
    """Tell the delimiter from the first line: the one met most outside of quotes; a comma if there is none.

    >>> find_delimiter('time;"a,b";x;y')
    ';'
    """
    outside = "".join(header.split('"')[::2])
    counts = {d: outside.count(d) for d in _DELIMITERS}
    best = max(counts, key=lambda d: counts[d])
    return best if counts[best] else ","


def delimiter_of(text: str) -> str:
    """Tell the delimiter from the header, or from the rows below where the first line is a title.

    >>> delimiter_of("Reds v Blues, 3 May" + chr(10) + "time;x;y" + chr(10) + "1;2,5;3,5" + chr(10))
    ';'
    """
    lines = [line for line in text[:65536].splitlines() if line.strip()][:20]
    if not lines:
        return ","
    first = find_delimiter(lines[0])
    best, best_count, best_agree = first, 0, 0
    for mark in _DELIMITERS:
        counts = Counter("".join(line.split('"')[::2]).count(mark) for line in lines)
        del counts[0]
        if counts:
            count, agree = max(counts.items(), key=lambda c: (c[1], c[0]))
            if (agree, count) > (best_agree, best_count):
                best, best_count, best_agree = mark, count, agree
    # The header rules, unless it has next to none of what most rows below are parted by.
    return first if 2 * "".join(lines[0].split('"')[::2]).count(first) > best_count or best_agree < 2 else best


def _text_lines(
    path: Path, delimiter: str, encoding: str, problems: Problems, max_rows: int | None
) -> list[list[str]] | None:
    with path.open("rb") as file:
        data = file.read() if max_rows is None else file.read(max_rows * 4000)
    if max_rows is not None and len(data) == max_rows * 4000:
        data = data[: data.rfind(b"\n") + 1]
    text = decode(data, path, encoding, problems)
    if text is None:
        return None
    if "\0" in text:
        row = text[: text.index("\0")].count("\n") + 1
        problems.add(path, "a zero byte", "text", "The file is damaged, or in UTF-16 without a mark at its start.", row)
        return None
    lines: list[list[str]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter or delimiter_of(text), strict=True)
    try:
        for line in reader:
            lines.append(line)
            if max_rows is not None and len(lines) > max_rows:
                break
    except csv.Error as error:
        if max_rows is not None and lines and "unexpected end" in str(error):
            return lines
        what = "a quote that is never closed" if "unexpected end" in str(error) else str(error)
        if "field larger" in what:
            what = f"a cell of more than {MAX_CELL:,} characters"
        problems.add(
            path, what, "cells in quotes, inner quotes doubled", "Check the quotes from this row on.", len(lines) + 1
        )
        return None
    return lines


# -- Excel and Parquet --------------------------------------------------------------------------------


def _excel_lines(path: Path, sheet: str, problems: Problems, max_rows: int | None) -> list[list[str]] | None:
    import openpyxl

    try:
        with zipfile.ZipFile(path) as archive:
            if sum(i.file_size for i in archive.infolist()) > MAX_TEXT_BYTES:
                problems.add(
                    path, "a workbook that unpacks to over 400 MB", "a smaller one", "Save the table as CSV or Parquet."
                )
                return None
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except Exception as error:  # openpyxl raises many kinds on a damaged file
        problems.add(
            path, f"a damaged workbook ({type(error).__name__})", "an Excel file (.xlsx)", "Save it again as .xlsx."
        )
        return None
    try:
        names = book.sheetnames
        if sheet and sheet not in names:
            problems.add(
                path,
                f"no sheet {sheet!r}",
                f"one of {', '.join(repr(n) for n in names)}",
                f"Mend sheet = in the mapping.{suggest(sheet, names)}",
            )
            return None
        lines = []
        for row in book[sheet or names[0]].iter_rows(values_only=True):
            lines.append([_as_text(v) for v in row])
            if max_rows is not None and len(lines) > max_rows:
                break
        return lines
    except Exception as error:
        problems.add(
            path, f"a damaged workbook ({type(error).__name__})", "an Excel file (.xlsx)", "Save it again as .xlsx."
        )
        return None
    finally:
        book.close()


def _parquet_lines(path: Path, problems: Problems, max_rows: int | None) -> list[list[str]] | None:
    table = _read_parquet(path, problems)
    if table is None:
        return None
    if max_rows is not None:
        table = table.slice(0, max_rows)
    columns = [[_as_text(v) for v in column.to_pylist()] for column in table.columns]
    return [list(table.column_names), *(list(row) for row in zip(*columns))]


def _read_parquet(path: Path, problems: Problems) -> Any:
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        return pq.read_table(path)
    except (pa.ArrowException, OSError) as error:
        what = str(error).split("\n")[0].split(". ")[0].rstrip(".")
        problems.add(path, f"a damaged Parquet file ({what})", "a whole Parquet file", "Export it again.")
        return None


def _as_text(value: object) -> str:
    """The text of a typed cell, so that all files go one way: 12.0 in a spreadsheet is 12."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return "" if np.isnan(value) else str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, dt.timedelta):
        seconds = value.total_seconds()
        return f"{int(seconds // 3600)}:{int(seconds // 60 % 60):02d}:{seconds % 60:09.6f}"
    return str(value)


# -- common -------------------------------------------------------------------------------------------


def _header_of(lines: list[list[str]]) -> int:
    """Index of the line that is most likely the header: the first that is filled nearly as far as those below."""
    counts = [sum(bool(c.strip()) for c in line) for line in lines[:30]]
    widest = max(counts, default=0)
    return next((i for i, count in enumerate(counts) if count and count >= 0.6 * widest), 0)


def _sheet_of(path: Path, lines: list[list[str]], problems: Problems, header_row: int | None = 0) -> Sheet | None:
    start = next((i for i, line in enumerate(lines) if any(c.strip() for c in line)), None)
    if start is None:
        problems.add(path, "no cell with content", "a header and rows", "Check that the export is whole.")
        return None
    likely = _header_of(lines)
    if header_row:
        start = header_row - 1
        if start >= len(lines) or not any(c.strip() for c in lines[start]):
            problems.add(
                path, "an empty row", "the header, as header_row says",
                f"The header seems to be row {likely + 1}: mend header_row in the mapping.", header_row,
            )  # fmt: skip
            return None
    elif header_row is None:
        start = likely
    elif likely > start and not any(re.match(r"\s*[-+]?\d", c) for c in lines[likely]):
        title = next(c.strip() for c in lines[start] if c.strip())
        problems.add(
            path, f"the title {title!r}", "the header in the first row",
            f"The header seems to be row {likely + 1}: write header_row = {likely + 1} beside file in the mapping.",
            start + 1,
        )  # fmt: skip
        return None
    header = [c.strip() for c in lines[start]]
    while header and not header[-1]:
        header.pop()
    _check_header(path, header, start + 1, problems)
    width = len(header)
    kept, rows, whole = [], [], True
    for i, line in enumerate(lines[start + 1 :], start + 2):
        cells = [c.strip() for c in line]
        if not any(cells):
            continue  # a blank row, which a spreadsheet counts and nobody means
        while len(cells) > width and not cells[-1]:
            cells.pop()
        if len(cells) != width and (len(line) < width or len(cells) > width):
            problems.add(
                path,
                f"{len(cells)} cells",
                f"{width} cells, as in the header",
                "Check the delimiter and the quotes of this row; the last row of a file may be cut off.",
                i,
            )
            whole = False
            continue
        kept.append(cells)
        rows.append(i)
    columns = list(zip(*kept)) if kept else [() for _ in header]
    named: dict[str, NDArray[np.object_]] = {}
    for name, values in zip(header, columns):
        named[name] = np.empty(len(rows), object)
        named[name][:] = values
    title = next((c.strip() for line in lines[:start] for c in line if c.strip()), "")
    broken = frozenset(name for name, count in Counter(header).items() if count > 1)
    return Sheet(path, tuple(dict.fromkeys(header)), named, np.asarray(rows, np.int64), whole, broken, start + 1, title)


def _check_header(path: Path, header: Iterable[str], row: int, problems: Problems) -> None:
    counts = Counter(header)
    for name, count in counts.items():
        if count > 1:
            problems.add(
                path,
                f"{count} columns without a header" if not name else f"{count} columns {name!r}",
                "a header of its own for each column",
                "Rename all but one.",
                row,
            )


def arrow_table(
    path: Path, delimiter: str, decimal: str, encoding: str, as_text: Sequence[str] = (), header_row: int = 0
) -> Any:
    """Read a large CSV or Parquet file as a pyarrow table; None where the slow way has to say what is wrong.

    The columns in `as_text` stay text: "12:34" would else be taken for a time of day.
    Rows stand one below the other without blanks, so record i is row i + 2 of the file, with the header in row 1.
    """
    import pyarrow as pa
    import pyarrow.csv as pc
    import pyarrow.parquet as pq

    try:
        with path.open("rb") as file:
            head = file.read(65536)
        if path.suffix.lower() == ".parquet":
            table = pq.read_table(path) if head[:4] == b"PAR1" else None
        else:
            if not head.strip() or head[:1] in (b"{", b"[") or head[:4] in (b"PK\x03\x04", b"PAR1"):
                return None
            name = encoding or ("utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8")
            start = head.split(b"\n")[0] + (b"\n\0" if name.startswith("utf-16") else b"")
            if header_row > 1 and not delimiter:
                delimiter = delimiter_of(head.decode(name, "ignore"))
            delimiter = delimiter or find_delimiter(start.decode(name, "ignore"))
            table = pc.read_csv(
                path,
                pc.ReadOptions(encoding=name, skip_rows=max(0, header_row - 1)),
                pc.ParseOptions(delimiter=delimiter, newlines_in_values=False, ignore_empty_lines=False),
                pc.ConvertOptions(
                    decimal_point=decimal, strings_can_be_null=False, column_types=dict.fromkeys(as_text, pa.string())
                ),
            )
        if table is None:
            return None
        names = [n.strip() for n in table.column_names]
        types = list(table.schema.types)
    except (pa.ArrowException, OSError, UnicodeError, LookupError):
        return None
    # Times of day, and bytes that are no text, are left to the slow way, which says what is wrong.
    if any(pa.types.is_time(t) or pa.types.is_binary(t) or pa.types.is_large_binary(t) for t in types):
        return None
    if len(set(names)) != len(names) or any(pa.types.is_null(t) and not n for n, t in zip(names, types)):
        return None
    return table.rename_columns(names)
