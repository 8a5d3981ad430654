"""Adding claims to a sheet: at its end, with every byte kept that is there; whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from tactical_kit.claims.sheet import ClaimSheet, ClaimSheetError, ClaimSpec, claim_place, claim_spec, read_claim_sheet
from tactical_kit.errors import TacticalKitError

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

__all__ = ["NEW_SHEET", "add_to_claim_sheet", "claim_toml"]

NEW_SHEET = """\
# Claims about a match.  Check them with:  tactical-kit claims {name}
# Each [[claim]] names a finder and conditions on what it finds:
#   of = [...]     which of its moments are looked at
#   where = [...]  what the claim says of them
#   word           how often: always, almost always, usually, mostly, half the time, sometimes, seldom,
#                  almost never, never, "two in three", "at least 60 %"
# `tactical-kit finders --about NAME` lists the columns and thresholds of a finder.
"""


def claim_toml(spec: ClaimSpec) -> str:
    """Return a claim as it stands in a sheet."""
    return "\n".join(["[[claim]]", *(f"{key} = {_toml(value)}" for key, value in spec.to_table().items()), ""])


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # What JSON escapes, TOML reads; one more character it asks for.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if hasattr(value, "item"):  # a NumPy number
        return _toml(value.item())
    raise TacticalKitError(f"{value!r} cannot be written into a claim sheet; expected text, a number, yes or no.")


def _key(key: str) -> str:
    return key if key.isascii() and key.replace("_", "").replace("-", "").isalnum() else _toml(key)


def add_to_claim_sheet(path: str | Path, text: str, finder: str, **keys: Any) -> ClaimSpec:
    """Add a claim at the end of a claim sheet; what stands there stays as it is, comments and all.

    Parameters
    ----------
    path : str or Path
        The sheet; a new one is begun if there is none.
    text, finder : str
        The claim in words, and what is counted.
    **keys
        The other keys of a claim, as in the file: `where=["n_for more than n_against"], word="usually",
        team="home"`.  Conditions may be texts, tables or `Condition`.  An empty value is left out.

    Returns
    -------
    ClaimSpec
        The claim.  One that stands there already with the same keys is not added again.

    Raises
    ------
    ClaimSheetError
        A claim, or a sheet, with faults; the file is as it was.

    Notes
    -----
    The file appears whole or not at all; several programs that add at once wait for each other.
    """
    path = Path(os.path.realpath(path))
    with _alone(path.parent):
        return _add(path, text, finder, keys)


def _add(path: Path, text: str, finder: str, keys: Mapping[str, Any]) -> ClaimSpec:
    given = {
        k: v for k, v in {"text": text, "finder": finder, **keys}.items() if v is not None and v not in ("", [], ())
    }
    given = {k: v for k, v in given.items() if not (isinstance(v, Mapping) and not v)}
    old, sheet = b"", ClaimSheet(path, ())
    if path.exists():
        old = path.read_bytes()
        sheet = _as_it_is(path, old)
    faults: list[str] = []
    number = len(sheet) + 1
    spec = claim_spec(given, number, sheet.words, f"{path.name}, {claim_place(number, text)}", faults)
    if spec is None:
        raise ClaimSheetError(faults, "nothing was added")
    for known in sheet.claims:
        if known.to_table() == spec.to_table():
            return known
    ending = b"\r\n" if b"\r\n" in old else b"\n"
    head = old or NEW_SHEET.format(name=path.name).encode()
    gap = b"" if head.endswith(b"\n") else ending
    new = head + gap + ending + claim_toml(spec).encode().replace(b"\n", ending)
    _replace(path, new, lambda part: _check_added(part, sheet, spec))
    return spec


def _as_it_is(path: Path, old: bytes) -> ClaimSheet:
    """Return the sheet that is there; one without a claim yet is fine."""
    try:
        return read_claim_sheet(path)
    except ClaimSheetError as error:
        if len(error.faults) == 1 and error.faults[0].startswith(f"{path.name}: holds no claim"):
            return ClaimSheet(path, ())
        raise ClaimSheetError(list(error.faults), "nothing was added") from error


def _check_added(part: Path, sheet: ClaimSheet, spec: ClaimSpec) -> None:
    """Read back what was written: the old claims and the new one, and nothing else."""
    try:
        found = read_claim_sheet(part)
    except ClaimSheetError as error:  # claims written as one list, `claim = [...]`, cannot be added to
        raise ClaimSheetError(
            [f"{sheet.path.name}: a claim cannot be added at its end; write each of its claims under [[claim]]."],
            "nothing was added",
        ) from error
    if [c.to_table() for c in found.claims] != [c.to_table() for c in (*sheet.claims, spec)]:
        raise ClaimSheetError(
            [f"{sheet.path.name}: the claim would not read back as it was given."], "nothing was added"
        )


def _replace(path: Path, content: bytes, check: Any) -> None:
    """Write beside the file, flush, check, and put it in its place in one step."""
    if not path.parent.is_dir():
        raise ClaimSheetError([f"{path}: there is no folder {path.parent}; make it first."], "nothing was added")
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
    handle, partial = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        check(Path(partial))
        os.chmod(partial, mode)
        os.replace(partial, path)
    except BaseException:
        with suppress(OSError):
            os.unlink(partial)
        raise


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Let one program or thread at a time change the sheets of a folder; where the system has no such lock, all."""
    if fcntl is None or not folder.is_dir():
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # a file system without locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
