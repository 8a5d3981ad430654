"""Columns of a large table, and the name pattern of wide ones."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.sources.mapping import TablePlan
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables_file import arrow_table, open_sheet
from tactical_kit.sources.tables_values import MISSING

__all__ = ["Cells", "first_of", "name_pattern", "texts"]


class Cells:
    """Columns of a large table: numbers as numbers where the file allows, else as text."""

    def __init__(
        self, columns: list[str], rows: NDArray[np.int64], table: Any, text: dict[str, NDArray[np.object_]]
    ) -> None:
        self.columns, self.rows, self._table, self._text = columns, rows, table, text
        self.broken: frozenset[str] = frozenset()  # headers that occur twice, which has been said

    @classmethod
    def open(cls, plan: TablePlan, problems: Problems) -> Cells | None:
        """Open a table, the quick way if it is sound; faults go to `problems`."""
        if plan.path.suffix.lower() not in (".xlsx", ".xlsm"):
            table = arrow_table(
                plan.path,
                plan.delimiter,
                plan.decimal,
                plan.encoding,
                [plan.columns["time"]] if plan.clock.form in ("mm:ss", "timestamp") and "time" in plan.columns else [],
                plan.header_row,
            )
            if table is not None:
                start = max(plan.header_row, 1) + 1
                rows = np.arange(start, table.num_rows + start, dtype=np.int64)
                return cls(list(table.column_names), rows, table, {})
        sheet = open_sheet(plan.path, problems, plan.sheet, plan.delimiter, plan.encoding, header_row=plan.header_row)
        if sheet is None:
            return None
        cells = cls([c for c in sheet.columns if c not in sheet.broken], sheet.rows, None, sheet.cells)
        cells.broken = sheet.broken
        return cells

    def get(self, header: str) -> NDArray[Any]:
        """The cells of a column: float64 where the file holds numbers, else object text."""
        if self._table is None:
            return self._text[header]
        import pyarrow as pa

        column = self._table[header]
        if pa.types.is_integer(column.type) or pa.types.is_floating(column.type):
            return column.to_numpy().astype(np.float64, copy=False)
        if pa.types.is_null(column.type):
            return np.full(len(self.rows), np.nan)
        if pa.types.is_boolean(column.type):
            return np.array(["" if v is None else "yes" if v else "no" for v in column.to_pylist()], object)
        if pa.types.is_temporal(column.type):
            return np.array(["" if v is None else v.isoformat() for v in column.to_pylist()], object)
        return np.array(["" if v is None else str(v).strip() for v in column.to_pylist()], object)

    def codes(self, header: str) -> tuple[NDArray[np.int64], NDArray[np.object_], NDArray[np.int64]]:
        """The distinct texts of a column: code of each row, the texts, the first record of each."""
        import pyarrow as pa

        column = None if self._table is None else self._table[header]
        if column is not None and pa.types.is_string(column.type):  # millions of texts, a few of them distinct
            coded = column.combine_chunks().dictionary_encode(null_encoding="encode")
            raw = ["" if v is None else str(v).strip() for v in coded.dictionary.to_pylist()]
            merged, distinct = pd.factorize(np.array(raw, object))
            codes = merged[coded.indices.to_numpy()]
        else:
            cells = self.get(header)
            codes, distinct = pd.factorize(cells, use_na_sentinel=False)
            if cells.dtype != object:
                distinct = np.array(["" if np.isnan(v) else f"{v:g}" for v in distinct], object)
        return codes, np.asarray(distinct, object), first_of(codes, len(distinct))


def first_of(codes: NDArray[np.integer], count: int) -> NDArray[np.int64]:
    """Return the first place of each code 0..count-1; the number of places where a code does not occur."""
    first = np.full(count, len(codes), np.int64)
    first[codes[::-1]] = np.arange(len(codes) - 1, -1, -1)  # of several the last one written stays: the first place
    return first


def texts(cells: NDArray[Any]) -> NDArray[np.object_]:
    """Bring cells to text, missing ones to ""."""
    if cells.dtype == object:
        return np.array(["" if str(c).casefold() in MISSING else c for c in cells], object)
    return np.array(["" if np.isnan(v) else f"{v:g}" for v in cells], object)


def name_pattern(text: str) -> re.Pattern[str]:
    """Make the name pattern of wide columns a regular expression: "{team}_{shirt}_{axis}"."""
    forms = {
        "{team}": "(?P<team>.+?)",
        "{player}": "(?P<player>.+?)",
        "{shirt}": r"(?P<shirt>\d+)",
        "{axis}": "(?P<axis>[xyz])",
    }
    parts = re.split(r"(\{(?:team|player|shirt|axis)\})", text)
    seen: set[str] = set()
    made = ""
    for part in parts:
        if part in forms and part not in seen:
            made += forms[part]
            seen.add(part)
        else:
            made += re.escape(part)
    return re.compile(made, re.IGNORECASE)
