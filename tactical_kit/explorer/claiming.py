"""A claim made of what the explorer shows: the finder, its filters, the user's words; checked at once, kept in a sheet.

What is counted is what the sheet says, by the same code that checks a sheet: `tactical-kit claims SHEET` gives the
same numbers later.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from tactical_kit.claims.sheet import ClaimSheet, ClaimSheetError, ClaimSpec, claim_spec, read_claim_sheet
from tactical_kit.claims.sheet_file import add_to_claim_sheet
from tactical_kit.claims.sheet_run import CheckedClaim, run_claim_sheet
from tactical_kit.errors import TacticalKitError
from tactical_kit.explorer.finding import Finding
from tactical_kit.explorer.lists import TAG
from tactical_kit.explorer.number_filters import NUMBER, SEVERAL, YES_NO, ColumnFilter, OwnColumn
from tactical_kit.explorer.store import Store
from tactical_kit.match import Match
from tactical_kit.measures.selection import Selection

__all__ = ["MORE_IN", "Claiming", "condition_of", "segment_words", "sheet_beside", "sheet_of"]

MORE_IN = ("more in the first half", "more in the second half")  # beside the words for how often
_CANNOT = {
    "zones": "zones",
    "area": "a drawn area",
    "players": "chosen players",
    "under_pressure": "pressure on the ball",
}


@dataclass(frozen=True)
class Draft:
    """A claim that is being written: its text, a word for how often, and which filters limit what is counted."""

    text: str = ""
    word: str = ""
    base: frozenset[str] = frozenset()


class Claiming:
    """The claim that is being written, and the sheet beside the match.

    Parameters
    ----------
    store : Store
        The state: finder, thresholds, filters, selection.
    sheet : str or Path
        The claim sheet; it need not be there yet.
    """

    def __init__(self, store: Store, sheet: str | Path) -> None:
        self.store, self.path = store, Path(sheet).absolute()
        self._drafts: dict[str, Draft] = {}
        self.said = ""  # what became of the last "add"

    @property
    def draft(self) -> Draft:
        """The claim that is being written of the chosen finder; each finder keeps its own."""
        return self._drafts.get(self.store.finding.finder, Draft())

    def write(self, **changes: Any) -> None:
        """Change text, word or base of the claim; listeners hear "claim"."""
        self._drafts[self.store.finding.finder] = replace(self.draft, **changes)
        self.said = ""
        self.store.tell("claim")

    @property
    def base(self) -> frozenset[str]:
        """Columns whose filters limit what is counted; a single filter is what is claimed."""
        filters = self.store.finding.filters
        return self.draft.base & {f.column for f in filters} if len(filters) > 1 else frozenset()

    def keys(self) -> dict[str, Any]:
        """Return the claim as it would stand in the sheet.

        Raises
        ------
        TacticalKitError
            No filter, so nothing is claimed; or something that a sheet cannot say.
        """
        store, draft = self.store, self.draft
        finding, selection = store.finding, store.selection
        if finding.finder == TAG:
            raise TacticalKitError("A claim is made of what a finder finds; tags are not. Choose a finder.")
        columns = {c.name: c for c in store.columns}
        claimed = [f for f in finding.filters if f.column not in self.base]
        if not claimed:
            raise TacticalKitError(
                "Filter the moments by one of their own numbers first: the claim says how many the filter keeps."
                if not finding.filters
                else "Every filter limits what is counted, so nothing is claimed of it. Untick one."
            )
        unsaid = [words for name, words in _CANNOT.items() if name in selection.active]
        if unsaid:
            raise TacticalKitError(f"A claim sheet cannot say {' and '.join(unsaid)}. Drop that condition first.")
        table: dict[str, Any] = {"text": draft.text.strip() or "Untitled", "finder": finding.finder}
        table |= _filled(
            thresholds=dict(finding.thresholds), team=self._team(selection),
            segment=segment_words(store.match, selection),
            phase=sorted(selection.phases), opponent_phase=sorted(selection.opponent_phases),
            score=sorted(selection.score_states),
            of=[condition_of(f, columns[f.column]) for f in finding.filters if f.column in self.base],
            where=[condition_of(f, columns[f.column]) for f in claimed],
        )  # fmt: skip
        if draft.word in MORE_IN:
            table["compare"] = {"by": "halves", "more": draft.word.removeprefix("more in the ")}
        elif draft.word:
            table["word"] = draft.word
        return table

    def _team(self, selection: Selection) -> str:
        if selection.team is None:
            return ""
        return "home" if self.store.match.team_index(selection.team) == 0 else "away"

    def check(self) -> CheckedClaim:
        """Count the claim and return it with its verdict.

        Raises
        ------
        TacticalKitError
            As `keys`; also what the sheet itself refuses.
        """
        table = self.keys()
        if "word" not in table and "compare" not in table:
            table["word"] = self._word_of(table["text"])
        store = self.store
        key = ("claim", store.finding, store.selection, self.draft)
        return store.found.kept(key, lambda: self._checked(table))

    def _word_of(self, text: str) -> str:
        from tactical_kit.claims.words import word_in

        found = word_in(text)
        if found is None:
            raise TacticalKitError(
                "Say how often: choose a word, or use one in the text (usually, seldom, two in three)."
            )
        return found.word

    def _checked(self, table: dict[str, Any]) -> CheckedClaim:
        faults: list[str] = []
        spec = claim_spec(table, 1, {}, "This claim", faults)
        if spec is None:
            raise TacticalKitError("; ".join(faults))
        return run_claim_sheet(self.store.match, ClaimSheet(self.path, (spec,)))[1]

    def add(self) -> ClaimSpec:
        """Write the claim into the sheet; all that stands there stays.

        Raises
        ------
        TacticalKitError
            No text; a claim that cannot be counted; a sheet that cannot be read or written.  It is as it was then.
        """
        if not self.draft.text.strip():
            raise TacticalKitError("Write the claim in words first, as you would publish it.")
        self.check()
        table = self.keys()
        before = len(self.listed())
        try:
            spec = add_to_claim_sheet(self.path, table.pop("text"), table.pop("finder"), **table)
        except OSError as error:
            raise TacticalKitError(
                f"{self.path} cannot be written: {error.strerror or error}. Nothing was added."
            ) from error
        if spec.number <= before:
            self.said = f"It stands in the sheet already, as claim {spec.number}."
        else:
            self.said = f"Added as claim {spec.number}."
        self.store.tell("claim")
        return spec

    def listed(self) -> tuple[ClaimSpec, ...]:
        """Return the claims that stand in the sheet; () where there is no sheet yet.

        Raises
        ------
        TacticalKitError
            A sheet that cannot be read.
        """
        if not self.path.exists():
            return ()
        try:
            return read_claim_sheet(self.path).claims
        except ClaimSheetError as error:
            if any("holds no claim" in fault for fault in error.faults):
                return ()
            raise

    def base_words(self) -> str:
        """Return what is counted, in words: "switch, Brinmar Lanterns, the whole match, where lateral 30 m or more"."""
        store = self.store
        finding: Finding = store.finding
        columns = {c.name: c for c in store.columns}
        said = f"moments of “{finding.finder}”, {store.words}"
        limits = [f.words(columns[f.column]) for f in finding.filters if f.column in self.base]
        return f"{said}, where {' and '.join(limits)}" if limits else said


def _filled(**keys: Any) -> dict[str, Any]:
    return {key: value for key, value in keys.items() if value not in ("", [], {}, ())}


def condition_of(asked: ColumnFilter, column: OwnColumn) -> dict[str, Any]:
    """Return a filter as a condition of a claim sheet.

    Raises
    ------
    TacticalKitError
        A sheet cannot say "or unknown" of a number, of a yes or no, or of several players.
    """
    name = asked.column
    if column.kind == NUMBER:
        if asked.unknown:
            raise TacticalKitError(
                f"A claim sheet cannot say “or unknown” of {column.label}. Untick “unknown, too” first."
            )
        if asked.low is not None and asked.high is not None:
            return {"column": name, "op": "between", "value": [asked.low, asked.high]}
        if asked.low is not None:
            return {"column": name, "op": "at least", "value": asked.low}
        return {"column": name, "op": "at most", "value": asked.high}
    values = sorted(asked.values)
    if column.kind == YES_NO:
        if asked.unknown:
            if values:
                raise TacticalKitError(
                    f"A claim sheet cannot say “or unknown” of {column.label}. Untick “unknown” first."
                )
            return {"column": name, "op": "is unknown"}
        if len(values) == 2:
            return {"column": name, "op": "is known"}
        return {"column": name, "op": "is", "value": values[0] == "yes"}
    if column.kind == SEVERAL:
        if asked.unknown:
            raise TacticalKitError(f"A claim sheet cannot say “or unknown” of {column.label}. Untick “unknown” first.")
        return {"column": name, "op": "has", "value": values}
    return {"column": name, "op": "is", "value": values + [""] * asked.unknown}


def segment_words(match: Match, selection: Selection) -> str:
    """Return the selected time as a claim sheet has it: "first half", "60:00-75:00", "" for the whole match.

    Raises
    ------
    TacticalKitError
        Several stretches that do not join.
    """
    spans = selection.segment
    if spans is None:
        return ""
    clock, periods = match.clock, list(match.periods)
    names = {1: "first half", 2: "second half"}
    order = [p.number for p in periods]
    for before, after in pairwise(spans):
        joined = before[2] >= clock[before[0]].duration_s and after[1] <= 0
        if not joined or order.index(after[0]) != order.index(before[0]) + 1:
            raise TacticalKitError("A claim sheet cannot say several stretches of time at once. Choose one.")
    (first, start, _), (last, _, end) = spans[0], spans[-1]
    from_start, to_end = start <= 0, end >= clock[last].duration_s
    if first == last and from_start and to_end and first in names:
        return names[first]
    if to_end and last == order[-1]:
        return f"from {clock.label(first, start)}"
    if from_start and first == order[0]:
        return f"until {clock.label(last, end)}"
    return f"{clock.label(first, start)}-{clock.label(last, end)}"


def sheet_beside(path: str | Path) -> Path:
    """Return where the claim sheet of a match lies: in its folder, or beside its file."""
    path = Path(path)
    return path / "claims.toml" if path.is_dir() else path.with_name(f"{path.stem}-claims.toml")


def sheet_of(match: Match) -> Path:
    """Return the claim sheet that is taken where none is named: by the id of the match, in the working folder."""
    return Path.cwd() / f"{re.sub(r'[^A-Za-z0-9_-]+', '-', match.match_id).strip('-') or 'match'}-claims.toml"
