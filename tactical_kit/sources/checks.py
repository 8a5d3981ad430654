"""Looks through input files of any form and reports everything that is wrong, loading nothing."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from tactical_kit.sources.draft import Draft, draft_mapping
from tactical_kit.sources.problems import InputError, Problems

__all__ = ["CheckReport", "check_files"]

_NO_MAPPING = "a table without a mapping"
_TABLES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".parquet")


class CheckReport(Problems):
    """Every problem of some input files, and the mappings drafted for tables that have none.

    Parameters
    ----------
    limit : int, default 5
        How often the same problem is shown before it is only counted.

    Attributes
    ----------
    drafts : dict of Path to Draft
        For each bare table a drafted mapping with its doubts.
    sound : list of str
        A line for each input that would load, as "match.toml: North v South, events".
    """

    def __init__(self, limit: int = 5) -> None:
        super().__init__(limit)
        self.drafts: dict[Path, Draft] = {}
        self.sound: list[str] = []

    def settle(self, table: Path) -> int:
        """Forget that a table has no mapping, once its draft has been saved; return how many lines that were."""
        return self.drop(table, _NO_MAPPING)


def check_files(paths: str | Path | Iterable[str | Path]) -> CheckReport:
    """Check match folders, Common Data Format files, mappings and bare tables.

    Parameters
    ----------
    paths : path or iterable of paths
        What to look at.  A bare table gets the note that it needs a mapping, and one is drafted.

    Returns
    -------
    CheckReport
        All problems together; `errors` is empty if everything would load.
    """
    report = CheckReport()
    for path in [paths] if isinstance(paths, str | Path) else paths:
        _check(Path(path), report)
    return report


def _check(path: Path, report: CheckReport) -> None:
    from tactical_kit.sources.cdf import check_cdf, is_cdf
    from tactical_kit.sources.match_folder import check_match_folder, is_match_folder
    from tactical_kit.sources.tables import read_table_match_into

    if not path.exists():
        report.add(path, "no such file or folder", "a file or folder", "Check the path.")
    elif is_match_folder(path):
        _sound(path, report, check_match_folder(path, report))
    elif path.suffix.lower() == ".toml" and path.is_file():
        _sound(path, report, read_table_match_into(path, report))
    elif path.suffix.lower() in _TABLES and path.is_file():
        _bare_table(path, report)
    elif is_cdf(path):
        _sound(path, report, check_cdf(path, report))
    else:
        what = "a folder of something else" if path.is_dir() else f"a file that ends in {path.suffix or 'nothing'}"
        report.add(
            path,
            what,
            "a match folder, Common Data Format files, a mapping (.toml) or a table (.csv, .xlsx, .parquet)",
            "Export the data in one of these forms.",
        )


def _sound(path: Path, report: CheckReport, match: object) -> None:
    if match is not None:
        text = repr(match).removeprefix("<Match ").removesuffix(">")
        report.sound.append(f"{path.name}: {text}")


def _bare_table(path: Path, report: CheckReport) -> None:
    try:
        draft = draft_mapping(path)
    except InputError as error:
        for p in error.problems:
            report.add(p.file, p.met, p.expected, p.mend, p.row, p.column, p.kind)
        return
    report.drafts[path] = draft
    count = len(draft.doubts)
    report.add(
        path,
        _NO_MAPPING,
        "a mapping (.toml) that says how to read it",
        f"One can be drafted, unsure of {count} thing{'s' if count != 1 else ''}: `tactical-kit check {path.name} "
        f"--mapping {path.stem}.toml` saves it; answer the question marks, then check the mapping.",
    )
