"""Writing a folder so that a reader meets the old one or the new one, never half of either."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tactical_kit.errors import TacticalKitError

__all__ = ["new_folder", "previous_of"]


def previous_of(path: Path) -> Path:
    """Return where the old folder waits, for a moment, while the new one takes its place."""
    return path.with_name(f".{path.name}.previous")


@contextmanager
def new_folder(path: str | Path, may_replace: Callable[[Path], str]) -> Iterator[Path]:
    """Give a temporary folder beside `path`; on leaving without an error it becomes `path`.

    Parameters
    ----------
    path : str or Path
        Where the folder shall be.
    may_replace : callable
        Called with an existing folder that is not empty; returns "" if it may be replaced, else the reason
        why not, as the end of the sentence "... is not overwritten: ".

    Raises
    ------
    TacticalKitError
        `path` is a file, its parent folder is missing, or `may_replace` gives a reason.

    Notes
    -----
    Files are flushed to disk (fsync) before the rename.  If writing fails, the temporary folder is removed
    and an existing folder is as it was.  A folder cannot be swapped in a single step everywhere: an old one
    is first renamed to `previous_of(path)`, and put back if the second rename fails.  If the machine stops
    between the two, the next write puts it back.
    """
    path = Path(path).resolve()
    if not path.parent.is_dir():
        raise TacticalKitError(f"cannot write {path}: there is no folder {path.parent}. Make it first.")
    if path.exists() and not path.is_dir():
        raise TacticalKitError(f"{path} is not overwritten: it is a file. Name a new folder.")
    previous = previous_of(path)
    if previous.is_dir() and not path.exists():
        previous.rename(path)  # an earlier write was cut off between its two renames
    if path.is_dir() and any(path.iterdir()):
        reason = may_replace(path)
        if reason:
            raise TacticalKitError(f"{path} is not overwritten: {reason}. Name a new folder.")
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir()
    try:
        yield part
        for file in sorted(part.iterdir()):
            _sync(file)
        _sync(part)
        if path.exists():
            shutil.rmtree(previous, ignore_errors=True)
            path.rename(previous)
        try:
            part.rename(path)
        except BaseException:
            if previous.exists() and not path.exists():
                previous.rename(path)
            raise
        _sync(path.parent)
        shutil.rmtree(previous, ignore_errors=True)
    except BaseException:
        shutil.rmtree(part, ignore_errors=True)
        raise


def _sync(path: Path) -> None:
    with suppress(OSError):  # some systems cannot open a folder; the rename still keeps the order
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
