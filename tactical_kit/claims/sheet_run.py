"""Counting every claim of a sheet on a match; as a test it fails where the data no longer bear one."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from tactical_kit.claims.base import instants
from tactical_kit.claims.compared import Compared
from tactical_kit.claims.comparison import Comparison, compare
from tactical_kit.claims.conditions import column_values
from tactical_kit.claims.listing import check_threshold
from tactical_kit.claims.means import compare_means
from tactical_kit.claims.rates import compare_rates
from tactical_kit.claims.shares import Claim, claim
from tactical_kit.claims.sheet import SEGMENT, ClaimSheet, ClaimSheetError, ClaimSpec, read_claim_sheet
from tactical_kit.claims.sheet_result import CheckedClaim, ClaimsDoNotHold, SheetResult
from tactical_kit.claims.splits import split_for
from tactical_kit.claims.verdict import CANNOT_CHECK, SUPPORTED, Verdict
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.finders import get_finder
from tactical_kit.match import Match
from tactical_kit.match.clock import PERIOD_NAMES
from tactical_kit.moments import Moments

__all__ = ["check_claim_sheet", "run_claim_sheet"]

_Answer = TypeVar("_Answer")


def run_claim_sheet(match: Match, sheet: ClaimSheet | str | Path) -> SheetResult:
    """Count every claim of a sheet on a match.

    Parameters
    ----------
    match : Match
        The match.
    sheet : ClaimSheet or path
        The sheet.

    Returns
    -------
    SheetResult
        A claim a row, with counts, intervals, verdicts and the moments behind them; shown as a table.

    Raises
    ------
    ClaimSheetError
        Finders, thresholds, sides, players, columns or words that there are not; all of the sheet at once.  A finder
        that cannot work on the data of the match is no fault of the sheet: its claims "cannot be checked".
    """
    sheet = sheet if isinstance(sheet, ClaimSheet) else read_claim_sheet(sheet)
    faults: list[str] = []
    checked = []
    for spec in sheet.claims:
        run = _Run(match, sheet, spec)
        try:
            checked.append(run.check())
        except _Faulty:
            faults.extend(run.faults)
    if faults:
        raise ClaimSheetError(faults)
    asked: dict[str, int] = {}
    for i, one in enumerate(checked):
        question = {k: v for k, v in one.spec.to_table().items() if k not in ("text", "note", "expect")}
        if isinstance(one.result, Claim) and one.result.word is not None:
            question["word"] = one.result.word.word
        first = asked.setdefault(repr(sorted(question.items())), one.spec.number)
        if first != one.spec.number:
            note = f"it asks the same as claim {first}; it is counted twice."
            checked[i] = dataclasses.replace(one, notes=(*one.notes, note))
    home, away = match.teams
    label = f" ({match.label})" if match.label else ""
    return SheetResult(sheet, tuple(checked), f"{home.name} v {away.name}{label}")


def check_claim_sheet(match: Match, sheet: ClaimSheet | str | Path) -> SheetResult:
    """Count every claim of a sheet, and fail if the match does not bear one: a test for a notebook.

    Parameters
    ----------
    match, sheet
        As in `run_claim_sheet`.

    Returns
    -------
    SheetResult
        Where all claims hold.

    Raises
    ------
    ClaimsDoNotHold
        With the sentence, the counts and the counterexamples of each claim that does not hold; it is an
        `AssertionError`, too, so that a test runner takes it for a failed test.
    ClaimSheetError
        As in `run_claim_sheet`.
    """
    result = run_claim_sheet(match, sheet)
    if not result.holds:
        raise ClaimsDoNotHold(result)
    return result


class _Faulty(Exception):
    pass


class _Run:
    """One claim of a sheet on its way through a match: collects its faults, then counts."""

    def __init__(self, match: Match, sheet: ClaimSheet, spec: ClaimSpec) -> None:
        self.match, self.sheet, self.spec = match, sheet, spec
        self.faults: list[str] = []

    def attempt(self, key: str, ask: Callable[[], _Answer]) -> _Answer | None:
        """Return an answer, or None where the key of the claim is at fault."""
        try:
            return ask()
        except MissingDataError:
            raise
        except TacticalKitError as error:
            self.faults.append(f"{self.sheet.place(self.spec)}, key {key!r}: {error}")
            return None

    def check(self) -> CheckedClaim:
        try:
            result, notes = self.count()
        except MissingDataError as lacking:
            verdict = Verdict(CANNOT_CHECK, f"Cannot be checked: {lacking}")
            return CheckedClaim(self.spec, None, verdict, False)
        verdict = result.verdict
        if self.spec.expect:
            holds = verdict.status == self.spec.expect
        else:
            holds = verdict.status == SUPPORTED if self.sheet.strict else verdict.holds
        # What depends on each other is remarked where it matters.
        if isinstance(result, Claim):
            notes += [result.dependence] if result.dependence_matters else []
        elif not isinstance(result, Comparison) or result.dependence_matters:
            notes += result.notes
        return CheckedClaim(self.spec, result, verdict, holds, tuple(notes))

    def count(self) -> tuple[Claim | Compared, list[str]]:
        spec, match = self.spec, self.match
        found = self.found()
        keep = np.ones(len(found), bool)
        for ask in (self.of_team, self.of_segment, self.of_state):
            keep &= ask(found)
        notes: list[str] = []
        keep &= self.met("of", found, notes)
        hit = self.met("where", found, notes)
        if self.faults:
            raise _Faulty
        of = found.where(keep)
        part = found.where(keep & hit)
        common: dict[str, Any] = {"text": spec.text, "few": spec.few or self.sheet.few, "level": self.sheet.level}
        if not spec.compare:
            word, words = spec.word or None, self.sheet.words
            return claim(common.pop("text"), part, of, word, match=match, words=words, **common), notes
        result = self.attempt("compare", lambda: self.compared(part, of, common))
        if result is None:
            raise _Faulty
        return result, notes

    def found(self) -> Moments:
        """Return what the finder finds; without it nothing else can be asked."""
        spec = self.spec
        finder = self.attempt("finder", lambda: get_finder(spec.finder))
        if finder is None:
            raise _Faulty
        for name, value in spec.thresholds.items():
            self.attempt("thresholds", lambda n=name, v=value: check_threshold(finder.thresholds, spec.finder, n, v))  # type: ignore[misc]
        # Where a threshold is at fault the rest of the claim is looked at all the same, to tell all faults at once.
        given = {} if self.faults else spec.thresholds
        found = self.attempt("thresholds", lambda: finder(self.match, **given))
        if found is None:
            raise _Faulty
        return found

    def of_team(self, found: Moments) -> NDArray[np.bool_]:
        if not self.spec.team:
            return np.ones(len(found), bool)
        team = self.attempt("team", lambda: self.match.team(self.spec.team))
        return (found.table["team"] == (team.team_id if team else "")).to_numpy(bool)

    def of_segment(self, found: Moments) -> NDArray[np.bool_]:
        inside = np.ones(len(found), bool)
        if self.spec.segment:
            mask = self.attempt("segment", lambda: _in_segment(self.match, self.spec.segment, found))
            inside = mask if mask is not None else inside
        return inside

    def of_state(self, found: Moments) -> NDArray[np.bool_]:
        keep = np.ones(len(found), bool)
        for key in ("phase", "opponent_phase", "score"):
            wanted = getattr(self.spec, key)
            if wanted:
                # What the match tells, whatever the finder's own column of that name says.
                table = found.table.drop(columns=key, errors="ignore")
                bare = Moments(table, found.finder, found.params, found.match_id)
                keep &= column_values(bare, key, self.match).isin(list(wanted)).to_numpy(bool)
        return keep

    def met(self, key: str, found: Moments, notes: list[str]) -> NDArray[np.bool_]:
        keep = np.ones(len(found), bool)
        for condition in getattr(self.spec, key):
            mask = self.attempt(key, lambda c=condition: c.mask(found, self.match))  # type: ignore[misc]
            if mask is not None:
                keep &= mask
                notes += condition.notes(found, self.match)
        return keep

    def compared(self, part: Moments, of: Moments, common: Mapping[str, Any]) -> Compared:
        spec, match = self.spec, self.match
        keys = dict(spec.compare)
        split = split_for(keys["by"], keys, of, match)
        way = "more" if "more" in keys else "less"
        named, than = split.find(keys[way]), keys.get("than")
        options: dict[str, Any] = {way: named, **common}
        if len(split.names) == 2:
            options["first"], options["second"] = split.names  # before, after: in their order
        else:
            options["first"], options["second"] = split.find(than) if than else None, named
        if spec.rate:
            team = spec.team or None
            return compare_rates(match, part, split, team=team, time=spec.rate, **options)
        if spec.mean:
            return compare_means(of, spec.mean, split, match=match, **options)
        return compare(part, of, split, match=match, **options)


def _in_segment(match: Match, segment: str, found: Moments) -> NDArray[np.bool_]:
    """Which moments begin within a half-open stretch of the match clock."""
    parts = SEGMENT.fullmatch(segment)
    assert parts is not None  # the sheet was read
    period, time_s = instants(found)
    half, start, end, way, at = parts.groups()
    if half:
        return period == next(n for n, name in PERIOD_NAMES.items() if name == half.lower())
    low, high = (match.clock.parse(at) if way.lower() == w else None for w in ("from", "until")) if way else (
        match.clock.parse(start), match.clock.parse(end)
    )  # fmt: skip
    if low and high and low >= high:
        raise TacticalKitError(f"{segment!r} ends before it starts.")
    inside = np.ones(len(found), bool)
    if low:
        inside &= (period > low[0]) | ((period == low[0]) & (time_s >= low[1]))
    if high:
        inside &= (period < high[0]) | ((period == high[0]) & (time_s < high[1]))
    return inside
