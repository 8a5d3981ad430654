"""Reading and writing a match in any form the kit knows; a new source is one entry in the registry."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tactical_kit.errors import TacticalKitError, check_choice
from tactical_kit.match import Match

__all__ = ["Form", "convert", "form_of", "forms", "read_match", "register_form", "write_match"]


@dataclass(frozen=True)
class Form:
    """One form of match on disk.

    Parameters
    ----------
    name : str
        Short name, as "folder".
    looks_like : str
        What a user sees of it, as "a match folder (match.json, events.parquet, ...)".
    sniff : callable
        (Path) -> bool: does the path look like this form, in whatever state?  Must not raise and must read
        little.
    read : callable
        (Path) -> Match; raises `InputError`.
    write : callable, optional
        (Match, Path) -> anything; None where the form is only read.
    """

    name: str
    looks_like: str
    sniff: Callable[[Path], bool]
    read: Callable[[Path], Match]
    write: Callable[[Match, Path], Any] | None = None


_FORMS: dict[str, Form] = {}


def register_form(form: Form) -> None:
    """Add a form; a name that is taken raises."""
    if form.name in _FORMS:
        raise TacticalKitError(f"a form {form.name!r} is registered already; choose another name.")
    _FORMS[form.name] = form


def forms() -> tuple[Form, ...]:
    """Return the forms that the kit knows, in the order in which they are tried."""
    return tuple(_FORMS.values())


def form_of(path: str | Path) -> Form:
    """Return the form that a path has.

    Raises
    ------
    TacticalKitError
        Nothing is there, or it fits no form; the message says what was met and lists the forms.
    """
    path = Path(path)
    for form in _FORMS.values():
        if form.sniff(path):
            return form
    known = "; ".join(form.looks_like for form in _FORMS.values())
    raise TacticalKitError(f"{path} is {_what(path)}; expected {known}.{_hint(path)}")


def read_match(path: str | Path) -> Match:
    """Return the match at a path, whatever form it has.

    Parameters
    ----------
    path : str or Path
        A match folder; a folder with Common Data Format files, or its meta file; a mapping (.toml) that says
        how to read a table.

    Raises
    ------
    TacticalKitError
        No form fits.
    InputError
        The form fits but the content is wrong; everything wrong is in the one message.
    """
    return form_of(path).read(Path(path))


def write_match(match: Match, path: str | Path, form: str = "folder") -> Path:
    """Write a match in one of the forms that can be written; return the path."""
    writable = [f.name for f in _FORMS.values() if f.write is not None]
    writer = _FORMS[check_choice("form", form, writable)].write
    assert writer is not None
    writer(match, Path(path))
    return Path(path)


def convert(source: str | Path, target: str | Path, form: str = "folder") -> Path:
    """Read a match in one form and write it in another; return the path written.

    Parameters
    ----------
    source : str or Path
        Anything that `read_match` reads.
    target : str or Path
        The folder to make.
    form : str, default "folder"
        "folder" for a match folder, "cdf" for the Common Data Format.
    """
    if Path(source).resolve() == Path(target).resolve():
        raise TacticalKitError(f"{target} is both source and target; name a new folder.")
    writable = [f.name for f in _FORMS.values() if f.write is not None]
    check_choice("form", form, writable)  # before the long reading
    return write_match(read_match(source), target, form)


def _what(path: Path) -> str:
    if not path.exists():
        return "no file or folder"
    if path.is_dir():
        names = sorted(p.name for p in path.iterdir() if not p.name.startswith("."))
        if not names:
            return "an empty folder"
        return f"a folder with {', '.join(names[:5])}{', …' if len(names) > 5 else ''}"
    return f"a {path.suffix} file" if path.suffix else "a file without an ending"


def _hint(path: Path) -> str:
    if path.suffix.lower() in (".csv", ".xlsx", ".xls", ".parquet", ".tsv", ".txt"):
        return f" A table needs a mapping: `tactical-kit check {path.name}` drafts one."
    return ""


def _later(module: str, name: str) -> Callable[..., Any]:
    """A function that is imported when it is first called, so that sniffing stays quick."""

    def call(*args: Any) -> Any:
        return getattr(importlib.import_module(f"tactical_kit.sources.{module}"), name)(*args)

    return call


register_form(
    Form(
        "folder",
        "a match folder (match.json with events.parquet and/or tracking.parquet)",
        _later("match_folder", "is_match_folder"),
        _later("match_folder", "read_match_folder"),
        _later("match_folder", "write_match_folder"),
    )
)
register_form(
    Form(
        "cdf",
        "a folder of Common Data Format files (meta.json, match.json, events.jsonl, tracking.jsonl) or the meta.json",
        _later("cdf", "is_cdf"),
        _later("cdf", "read_cdf"),
        _later("cdf", "write_cdf"),
    )
)
register_form(
    Form(
        "table",
        "a mapping (.toml) that says how to read a table",
        lambda path: path.suffix.lower() == ".toml" and path.is_file(),
        _later("tables", "read_table_match"),
    )
)
