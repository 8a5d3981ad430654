"""JSON from outside, read with guards: size, nesting, encoding, numbers and keys that stand twice."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

from tactical_kit.sources.problems import Problems

__all__ = [
    "MAX_BYTES",
    "MAX_DEPTH",
    "MAX_LINE",
    "decode_guarded",
    "parse_json_guarded",
    "read_json_guarded",
    "read_jsonl_guarded",
]

MAX_BYTES = 32_000_000  # a squad list or a mapping is thousands of times smaller
MAX_LINE = 1_000_000  # bytes in one line of a .jsonl file; a frame with 22 players has about 1,500
MAX_DEPTH = 40
MAX_DIGITS = 18  # whole numbers beyond this do not fit 64 bits

_BRACKETS = re.compile(r'"(?:[^"\\]|\\.)*"?|[\[\]{}]', re.DOTALL)
_MARKS = ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16"), (b"\x00\x00\xfe\xff", "UTF-32"))
_UTF8_MARK = b"\xef\xbb\xbf"


class _Refused(ValueError):
    def __init__(self, met: str, expected: str, mend: str) -> None:
        super().__init__(met)
        self.met, self.expected, self.mend = met, expected, mend


def decode_guarded(raw: bytes, file: Path, problems: Problems, row: int | None = None) -> str | None:
    """Return the text of bytes that must be UTF-8; a byte-order mark is dropped with a warning.

    Returns None, with the problem noted, for another encoding.
    """
    if raw.startswith(_UTF8_MARK):
        problems.add(
            file, "a byte-order mark at the start", "plain UTF-8", "It was skipped; nothing to do.", row, kind="warning"
        )
        raw = raw[len(_UTF8_MARK) :]
    for mark, name in _MARKS:
        if raw.startswith(mark):
            problems.add(file, f"{name} text", "UTF-8 text", "Save the file again with the encoding UTF-8.", row)
            return None
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + (row or 1)
        problems.add(
            file,
            f"the byte 0x{raw[error.start]:02x}",
            "UTF-8 text",
            "Save the file again with the encoding UTF-8.",
            line,
        )
        return None


def parse_json_guarded(
    text: str, file: Path, problems: Problems, row: int | None = None, max_depth: int = MAX_DEPTH
) -> Any:
    """Return the value of a JSON text, or None with the problem noted.

    Refused, beside faulty JSON: nesting deeper than `max_depth`, a key twice in one object, NaN and Infinity
    (also as 1e999), whole numbers of more than 18 digits.
    """
    deep = _depth_beyond(text, max_depth)
    if deep is not None:
        line = text.count("\n", 0, deep) + (row or 1)
        problems.add(
            file,
            f"brackets nested more than {max_depth} deep",
            f"at most {max_depth} levels",
            "This is not a file of this kind; look where it comes from.",
            line,
        )
        return None
    try:
        return _DECODER.decode(text)
    except _Refused as error:
        problems.add(file, error.met, error.expected, error.mend, row)
    except json.JSONDecodeError as error:
        line = error.lineno + (row or 1) - 1
        rest = text[error.pos : error.pos + 20].strip()
        met = f"{rest!r}" if rest else "the end of the text" if row is None else "the end of the line"
        problems.add(
            file,
            met,
            f"valid JSON ({error.msg[0].lower()}{error.msg[1:].removesuffix(' starting at')})",
            "The file is cut off or damaged here: export it again.",
            line,
        )
    except RecursionError:  # pragma: no cover - the depth guard comes first
        problems.add(file, "brackets nested too deep", f"at most {max_depth} levels", "Look where it comes from.", row)
    return None


def read_json_guarded(
    path: str | Path, problems: Problems, max_bytes: int = MAX_BYTES, max_depth: int = MAX_DEPTH
) -> Any:
    """Return the value in a JSON file, or None with every reason noted in `problems`.

    Parameters
    ----------
    path : str or Path
        The file.
    problems : Problems
        The collector.
    max_bytes : int, default 32,000,000
        A larger file is refused unread.
    max_depth : int, default 40
        Deepest nesting of brackets.

    Notes
    -----
    A UTF-8 byte-order mark is accepted with a warning.  See `parse_json_guarded` for what is refused.
    """
    path = Path(path)
    raw = _read_bytes(path, problems, max_bytes)
    if raw is None:
        return None
    if not raw.strip():
        problems.add(path, "an empty file", "JSON", "Export the file again.")
        return None
    text = decode_guarded(raw, path, problems)
    return None if text is None else parse_json_guarded(text, path, problems, max_depth=max_depth)


def read_jsonl_guarded(path: str | Path, problems: Problems, max_line: int = MAX_LINE) -> Iterator[tuple[int, Any]]:
    """Yield (row, value) for each line of a JSON Lines file; faulty lines are noted and skipped.

    The file is read line by line, so its size does not matter; a line longer than `max_line` bytes ends the
    reading with a problem.
    """
    path = Path(path)
    try:
        with path.open("rb") as lines:
            row = 0
            while line := lines.readline(max_line + 1):
                row += 1
                if len(line) > max_line:
                    problems.add(
                        path,
                        f"a line of more than {max_line:,} bytes",
                        f"lines of at most {max_line:,} bytes",
                        "Each line holds one event or one frame; the line breaks may be lost.",
                        row,
                    )
                    return
                if not line.strip():
                    continue
                text = decode_guarded(line, path, problems, row)
                if text is None:
                    continue
                before = len(problems)
                value = parse_json_guarded(text.rstrip(), path, problems, row)
                if value is not None or len(problems) == before:
                    yield row, value
    except OSError as error:
        problems.add(path, _reason(error), "a file that can be read", "Check the name and the rights.")


def _read_bytes(path: Path, problems: Problems, max_bytes: int) -> bytes | None:
    try:
        size = path.stat().st_size
        if path.is_dir():
            problems.add(path, "a folder", "a file", "Name the file in it.")
            return None
        if size > max_bytes:
            problems.add(
                path,
                f"{size:,} bytes",
                f"at most {max_bytes:,} bytes",
                "This is not a file of this kind; look where it comes from.",
            )
            return None
        return path.read_bytes()
    except OSError as error:
        problems.add(path, _reason(error), "a file that can be read", "Check the name and the rights.")
        return None


def _reason(error: OSError) -> str:
    return "no such file" if isinstance(error, FileNotFoundError) else (error.strerror or str(error)).lower()


def _depth_beyond(text: str, limit: int) -> int | None:
    """Position of the first bracket nested deeper than the limit; None if there is none."""
    if text.count("{") + text.count("[") <= limit:
        return None
    depth = 0
    for found in _BRACKETS.finditer(text):
        mark = found[0]
        if mark in "[{":
            depth += 1
            if depth > limit:
                return found.start()
        elif mark in "]}":
            depth -= 1
    return None


def _no_constant(name: str) -> NoReturn:
    raise _Refused(name, "a finite number or null", "Write null where a value is unknown.")


def _whole(digits: str) -> int:
    if len(digits.lstrip("-")) > MAX_DIGITS:
        shown = digits if len(digits) <= 30 else f"{digits[:20]}… ({len(digits)} digits)"
        raise _Refused(shown, f"a whole number of at most {MAX_DIGITS} digits", "Look where the number comes from.")
    return int(digits)


def _real(digits: str) -> float:
    value = float(digits)
    if not math.isfinite(value):
        raise _Refused(digits, "a finite number or null", "Write null where a value is unknown.")
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise _Refused(f"the key {twice!r} twice in one object", "each key once", "Remove one of the two.")
    return made


_DECODER = json.JSONDecoder(object_pairs_hook=_object, parse_constant=_no_constant, parse_int=_whole, parse_float=_real)
