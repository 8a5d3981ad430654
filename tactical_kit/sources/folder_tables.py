"""The three Parquet tables of a match folder: events, tracking and tags to and from disk.

Tracking is kept as whole centimetres (int16), one column a coordinate, delta-coded: neighbouring frames
differ by a few centimetres, so most values fit a few bits.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import EVENT_COLUMNS, Tracking, events_table
from tactical_kit.sources.problems import Problems

__all__ = ["TrackingHead", "open_table", "read_events", "read_tags", "read_tracking", "write_table", "write_tracking"]

MISSING_CM = np.int16(-32768)  # stands for NaN
REACH_CM = 32767
ROWS_PER_GROUP = 16_384  # read one group at a time: bounds what is held beside the arrays
_BLOCK = 1_024  # frames turned to metres at a time: the block stays in the processor's cache
_ARROW = {"str": pa.string(), "int8": pa.int8(), "float64": pa.float64(), "boolean": pa.bool_()}
_READ_ERRORS = (pa.ArrowException, OSError, UnicodeDecodeError)
_BALL = ("ball_x", "ball_y", "ball_z")


class TrackingHead:
    """What match.json says of the tracking: rate, players, their sides, whether an owner is stored."""

    def __init__(self, rate_hz: float, players: tuple[str, ...], team_index: tuple[int, ...], has_owner: bool) -> None:
        self.rate_hz, self.players, self.team_index, self.has_owner = rate_hz, players, team_index, has_owner

    @property
    def schema(self) -> pa.Schema:
        """Columns and types of tracking.parquet."""
        fields = [("period", pa.int8()), ("time_us", pa.int64()), ("alive", pa.bool_())]
        if self.has_owner:
            fields.append(("owner", pa.int8()))
        fields += [(name, pa.int16()) for name in (*_BALL, *self.coordinates)]
        return pa.schema(fields)

    @property
    def coordinates(self) -> list[str]:
        """Names of the coordinate columns: p00_x, p00_y, p01_x... in the order of `players`."""
        return [f"p{i:02d}_{axis}" for i in range(len(self.players)) for axis in "xy"]


def write_tracking(tracking: Tracking, path: Path) -> int:
    """Write tracking.parquet; return the number of frames.

    Raises
    ------
    TacticalKitError
        A coordinate beyond 327.67 m, which centimetres in 16 bits cannot hold.
    """
    head = TrackingHead(tracking.rate_hz, tracking.players, (), tracking.owner is not None)
    schema = head.schema
    small = [name for name in schema.names if name != "alive"]
    with pq.ParquetWriter(
        path,
        schema,
        compression="zstd",
        compression_level=9,
        use_dictionary=False,
        write_statistics=False,
        column_encoding={name: "DELTA_BINARY_PACKED" for name in small},
        store_schema=False,
    ) as writer:
        for start in range(0, len(tracking), ROWS_PER_GROUP):
            rows = slice(start, start + ROWS_PER_GROUP)
            arrays: list[NDArray] = [
                tracking.period[rows].astype(np.int8),
                np.rint(tracking.time_s[rows] * 1e6).astype(np.int64),
                tracking.alive[rows].astype(bool),
            ]
            if tracking.owner is not None:
                arrays.append(tracking.owner[rows].astype(np.int8))
            arrays += [_centimetres(tracking.ball[rows, i], "the ball") for i in range(3)]
            for i, player in enumerate(tracking.players):
                arrays += [_centimetres(tracking.xy[rows, i, axis], f"player {player!r}") for axis in (0, 1)]
            writer.write_table(pa.table([pa.array(a) for a in arrays], schema=schema))
    return len(tracking)


def read_tracking(path: Path, head: TrackingHead, problems: Problems) -> Tracking | None:
    """Return the tracking of tracking.parquet, or None with every reason noted.

    Frames out of order are noted and left out, so that the rest can be looked at.
    """
    before = len(problems)
    with open_table(path, problems) as file:
        if file is None or not _schema_fits(path, file.schema_arrow, head.schema, problems):
            return None
        frames = file.metadata.num_rows
        period, time_s = np.empty(frames, np.int8), np.empty(frames, np.float64)
        alive, owner = np.empty(frames, bool), np.empty(frames, np.int8) if head.has_owner else None
        xy = np.empty((frames, len(head.players), 2), np.float32)
        ball = np.empty((frames, 3), np.float32)
        start = 0
        try:
            for group in range(file.num_row_groups):
                table = file.read_row_group(group, use_threads=True)
                rows = slice(start, start + table.num_rows)
                columns = {n: table.column(n).combine_chunks() for n in table.column_names}
                if any(c.null_count for c in columns.values()):
                    name = next(n for n, c in columns.items() if c.null_count)
                    problems.add(path, "an empty cell", "a value in every cell", "Write the match again.", column=name)
                    return None
                period[rows] = columns["period"].to_numpy()
                np.divide(columns["time_us"].to_numpy(), 1e6, out=time_s[rows])
                alive[rows] = columns["alive"].to_numpy(zero_copy_only=False)
                if owner is not None:
                    owner[rows] = columns["owner"].to_numpy()
                _metres([columns[n].to_numpy() for n in _BALL], ball[rows])
                _metres(
                    [columns[n].to_numpy() for n in head.coordinates],
                    xy[rows].reshape(table.num_rows, 2 * len(head.players)),
                )
                start += table.num_rows
        except _READ_ERRORS as error:
            _damaged(path, error, problems)
            return None
    if frames == 0:
        problems.add(path, "0 frames", "at least one frame", "Leave tracking out of the folder if there is none.")
    _check_time(path, period, time_s, problems)
    if owner is not None and frames and not (owner.min() >= -1 and owner.max() <= 1):
        problems.add(
            path,
            int(owner.max() if owner.max() > 1 else owner.min()),
            "-1, 0 or 1",
            "Write the match again.",
            column="owner",
        )
        owner = None
    if frames == 0:
        return None
    if len(problems) > before:  # the frames that stand in order are looked at all the same
        clock = period * 1e7 + time_s
        good = np.r_[True, clock[1:] > np.maximum.accumulate(clock)[:-1]]
        period, time_s, xy, ball, alive = period[good], time_s[good], xy[good], ball[good], alive[good]
        owner = None if owner is None else owner[good]
    known = [i for i, side in enumerate(head.team_index) if side >= 0]
    players, team_index = tuple(head.players[i] for i in known), np.array(head.team_index, np.int8)[known]
    if len(known) < len(head.players):
        xy = xy[:, known]
    return Tracking(head.rate_hz, period, time_s, players, team_index, xy, ball, alive, owner)


def write_table(table: pd.DataFrame, path: Path, types: dict[str, str] | None = None) -> int:
    """Write a table of events or tags; return the number of rows.

    The bytes depend on the values alone: no pandas metadata is stored.
    """
    arrays, names = [], []
    for name in map(str, table.columns):
        arrow_type = _ARROW[types[name]] if types and name in types else None
        try:
            array = pa.Array.from_pandas(table[name], type=arrow_type)
        except (pa.ArrowException, TypeError, ValueError) as error:
            raise TacticalKitError(f"column {name!r} cannot be written to {path.name}: {error}.") from error
        if pa.types.is_large_string(array.type):
            array = array.cast(pa.string())
        arrays.append(array)
        names.append(name)
    made = pa.table(arrays, names=names).replace_schema_metadata(None)
    pq.write_table(made, path, compression="zstd", store_schema=False)
    return len(table)


def read_events(path: Path, problems: Problems) -> tuple[pd.DataFrame | None, dict[str, NDArray[np.bool_]]]:
    """Return the events of events.parquet, or None with the reason noted; also the cells that are faulty.

    A faulty cell is noted and emptied, so that the rest can be looked at.
    """
    table = _read_whole(path, problems)
    if table is None:
        return None, {}
    wanted = pa.schema([(name, _ARROW[dtype]) for name, dtype in EVENT_COLUMNS.items()])
    if not _schema_fits(path, table.schema, wanted, problems, more=True):
        return None, {}
    frame = table.to_pandas()
    bad = {name: np.zeros(len(frame), bool) for name in EVENT_COLUMNS}
    for name, dtype in EVENT_COLUMNS.items():
        if dtype != "boolean" and dtype != "float64" and table.column(name).null_count:
            bad[name] = frame[name].isna().to_numpy(bool)
            row = int(np.flatnonzero(bad[name])[0]) + 1
            problems.add(path, "an empty cell", 'a value, "" for unknown', "Write the match again.", row, name)
            frame[name] = frame[name].fillna("" if dtype == "str" else 1)
    for name in ("time_s", "end_s", "x", "y", "end_x", "end_y"):
        infinite = np.isinf(frame[name].to_numpy(float))
        if infinite.any():
            row = int(np.flatnonzero(infinite)[0])
            problems.add(path, frame[name].iloc[row], "a finite number", "Write the match again.", row + 1, name)
            bad[name] |= infinite
            frame.loc[infinite, name] = np.nan
    unknown_time = frame["time_s"].isna().to_numpy(bool) & ~bad["time_s"]
    if unknown_time.any():
        row = int(np.flatnonzero(unknown_time)[0])
        problems.add(path, "an empty cell", "a time in seconds", "Write the match again.", row + 1, "time_s")
        bad["time_s"] |= unknown_time
    sound = np.flatnonzero(~bad["time_s"] & ~bad["period"])
    period, time_s = frame["period"].to_numpy()[sound], frame["time_s"].to_numpy(float)[sound]
    later = (np.diff(period) > 0) | ((np.diff(period) == 0) & (np.diff(time_s) >= 0))
    if not later.all():
        k = int(np.flatnonzero(~later)[0]) + 1
        problems.add(
            path,
            f"period {period[k]}, {time_s[k]:g} s",
            f"no time before the row above (period {period[k - 1]}, {time_s[k - 1]:g} s)",
            "Write the match again.",
            int(sound[k]) + 1,
            "time_s",
        )
        clock = period * 1e7 + time_s
        bad["time_s"][sound] |= clock < np.maximum.accumulate(clock)
    ids = frame["event_id"]
    bad["event_id"] |= ids.duplicated().to_numpy() & (ids != "").to_numpy(bool)
    for at in np.flatnonzero(bad["event_id"] & (ids != "").to_numpy(bool)):
        problems.add(
            path, ids.iloc[at], "each event_id once", "Give the event an id of its own.", int(at) + 1, "event_id"
        )
    if any(mask.any() for mask in bad.values()):
        return frame.astype(dict(EVENT_COLUMNS)), bad  # in the order of the file: its rows are named
    return events_table(frame), {}


def read_tags(path: Path, problems: Problems) -> pd.DataFrame | None:
    """Return the analyst's tags of tags.parquet, or None with the reason noted."""
    table = _read_whole(path, problems)
    return None if table is None else table.to_pandas()


class open_table:
    """Open a Parquet file in a `with`; gives None, the problem noted, where the file is none."""

    def __init__(self, path: Path, problems: Problems) -> None:
        self.path, self.problems = path, problems
        self.file: pq.ParquetFile | None = None

    def __enter__(self) -> pq.ParquetFile | None:
        try:
            self.file = pq.ParquetFile(self.path, memory_map=False)
            _ = self.file.schema_arrow.names  # fails here if a name is not UTF-8
        except FileNotFoundError:
            self.problems.add(
                self.path,
                "no such file",
                "the file that match.json lists",
                "Copy the whole folder, or write the match again.",
            )
        except _READ_ERRORS as error:
            _damaged(self.path, error, self.problems)
            self.__exit__()
            self.file = None
        return self.file

    def __exit__(self, *_: object) -> None:
        if self.file is not None:
            self.file.close()


def _damaged(path: Path, error: Exception, problems: Problems) -> None:
    met = f"a damaged file ({str(error).splitlines()[0][:40]})"
    try:
        with path.open("rb") as file:
            head = file.read(4)
            file.seek(0, 2)
            size = file.tell()
            file.seek(max(size - 4, 0))
            tail = file.read(4)
        if size == 0:
            met = "an empty file"
        elif head[:2] == b"PK":
            met = "a zip archive"
        elif head != b"PAR1":
            met = f"a file that begins with {head!r}"
        elif tail != b"PAR1":
            met = "a Parquet file that is cut off"
    except OSError as second:
        met = (second.strerror or str(second)).lower()
    problems.add(path, met, "a Parquet file", "Copy it again, or write the match again.")


def _read_whole(path: Path, problems: Problems) -> pa.Table | None:
    with open_table(path, problems) as file:
        if file is None:
            return None
        try:
            table = file.read(use_threads=False)
            table.validate(full=True)  # texts that are not UTF-8
            return table
        except _READ_ERRORS as error:
            _damaged(path, error, problems)
            return None


def _schema_fits(path: Path, met: pa.Schema, wanted: pa.Schema, problems: Problems, more: bool = False) -> bool:
    before = len(problems)
    for field in wanted:
        if field.name not in met.names:
            problems.add(
                path, "no such column", f"a column of type {field.type}", "Write the match again.", column=field.name
            )
        elif met.field(field.name).type not in _alike(field.type):
            problems.add(
                path,
                f"type {met.field(field.name).type}",
                f"type {field.type}",
                "Write the match again.",
                column=field.name,
            )
    if not more:
        for name in met.names:
            if name not in wanted.names:
                problems.add(
                    path, "an unknown column", "the columns of the format alone", "Write the match again.", column=name
                )
    for name in sorted({n for n in met.names if met.names.count(n) > 1}):
        problems.add(path, "the column twice", "each column once", "Write the match again.", column=name)
    return len(problems) == before


def _alike(wanted: pa.DataType) -> tuple[pa.DataType, ...]:
    return (wanted, pa.large_string()) if wanted == pa.string() else (wanted,)


def _check_time(path: Path, period: NDArray[np.int8], time_s: NDArray[np.float64], problems: Problems) -> None:
    step = np.diff(period)
    later = (step > 0) | ((step == 0) & (np.diff(time_s) > 0))
    if not later.all():
        row = int(np.flatnonzero(~later)[0]) + 1
        problems.add(
            path,
            f"period {period[row]}, {time_s[row]:g} s",
            f"a time after the row above (period {period[row - 1]}, {time_s[row - 1]:g} s)",
            "Write the match again.",
            row + 1,
            "time_us",
        )


def _centimetres(metres: NDArray[np.float32], whose: str) -> NDArray[np.int16]:
    scaled = np.rint(metres.astype(np.float64) * 100)
    known = ~np.isnan(scaled)
    if (np.abs(scaled, where=known, out=np.zeros_like(scaled)) > REACH_CM).any():
        worst = float(metres[known][np.argmax(np.abs(scaled[known]))])
        raise TacticalKitError(
            f"a coordinate of {whose} is {worst:g} m; a match folder holds -{REACH_CM / 100:g} to "
            f"{REACH_CM / 100:g} m from the centre spot. Check the unit of the positions."
        )
    return np.where(known, scaled, MISSING_CM).astype(np.int16)


def _metres(columns: list[NDArray[np.int16]], out: NDArray[np.float32]) -> None:
    """Fill (rows, columns) float32 metres from int16 centimetres, block by block."""
    scratch = np.empty((_BLOCK, len(columns)), np.int16)
    for start in range(0, len(out), _BLOCK):
        block = out[start : start + _BLOCK]
        raw = scratch[: len(block)]
        for i, column in enumerate(columns):
            raw[:, i] = column[start : start + _BLOCK]
        np.divide(raw, np.float32(100), out=block, dtype=np.float32)
        block[raw == MISSING_CM] = np.nan
