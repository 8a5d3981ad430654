"""Counting every claim of a sheet on a match; as a test it fails where the data no longer bear one."""

from __future__ import annotations

import html
import math
import textwrap
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tactical_kit.claims.base import counted, instants
from tactical_kit.claims.compared import Compared
from tactical_kit.claims.comparison import Comparison, compare
from tactical_kit.claims.conditions import column_values
from tactical_kit.claims.listing import check_threshold
from tactical_kit.claims.means import compare_means
from tactical_kit.claims.rates import compare_rates
from tactical_kit.claims.shares import Claim, claim
from tactical_kit.claims.sheet import SEGMENT, ClaimSheet, ClaimSheetError, ClaimSpec, claim_place, read_claim_sheet
from tactical_kit.claims.splits import split_for
from tactical_kit.claims.verdict import CANNOT_CHECK, SUPPORTED, UNDECIDED, Verdict
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.finders import get_finder
from tactical_kit.match import Match
from tactical_kit.match.clock import PERIOD_NAMES
from tactical_kit.moments import Moments

__all__ = ["CheckedClaim", "ClaimsDoNotHold", "SheetResult", "check_claim_sheet", "run_claim_sheet"]

_Answer = TypeVar("_Answer")
_SHOWN = 12


class ClaimsDoNotHold(TacticalKitError, AssertionError):
    """Claims of a sheet that the match does not bear; `result` holds them all with their moments."""

    def __init__(self, result: SheetResult) -> None:
        self.result = result
        head = (
            f"{len(result.fallen)} of {counted(len(result), 'claim')} of {result.sheet.path.name} "
            f"{'does' if len(result.fallen) == 1 else 'do'} not hold on this match."
        )
        super().__init__("\n".join([head, *(line for one in result.fallen for line in one.report())]))


@dataclass(frozen=True, eq=False)
class CheckedClaim:
    """One claim of a sheet with what was counted.

    Parameters
    ----------
    spec : ClaimSpec
        As it stands in the sheet.
    result : Claim, Comparison, MeanComparison, RateComparison or None
        What was counted; None where the match lacks the data.
    verdict : Verdict
        What the data say.
    holds : bool
        Whether it holds: the verdict that the sheet expects, or, without one, a claim that this match bears.
    notes : tuple of str
        Remarks: words that occur in no moment, what depends on each other.
    """

    spec: ClaimSpec
    result: Claim | Compared | None
    verdict: Verdict
    holds: bool
    notes: tuple[str, ...] = ()

    @property
    def numbers(self) -> str:
        """Count, share and interval, or those of both groups; "" where nothing could be counted."""
        return self.result.numbers if self.result is not None else ""

    @property
    def sentence(self) -> str:
        """The claim with its numbers and what they bear, ready to publish."""
        return self.result.sentence if self.result is not None else f"{self.spec.text}: {self.verdict.words}"

    @property
    def counterexamples(self) -> tuple[str, ...]:
        """The match clock of the moments that speak against it; of a share only."""
        if not isinstance(self.result, Claim):
            return ()
        return tuple(c for c, is_one in zip(self.result.clock_labels, self.result._against()) if is_one)

    @property
    def short_verdict(self) -> str:
        """The word or the direction that is claimed, and the status of the verdict."""
        status = self.verdict.status
        if status == UNDECIDED:
            status += ", but it fits" if self.verdict.fits else ", and it does not fit"
        if self.spec.expect:
            status += f" (expected: {self.spec.expect})"
        what = _claimed(self)
        return f"{what}: {status}" if what else status

    def report(self) -> list[str]:
        """Return what does not hold and why, with the counterexamples, as lines."""
        lines = [f"{claim_place(self.spec.number, '')}: {self.sentence}"]
        if self.spec.expect:
            lines.append(f"  expected {self.spec.expect!r}, found {self.verdict.status!r}")
        against = self.counterexamples
        if against:
            more = f" and {len(against) - _SHOWN} more" if len(against) > _SHOWN else ""
            lines.append(f"  {counted(len(against), 'counterexample')}: {', '.join(against[:_SHOWN])}{more}")
        return lines + [f"  note: {note}" for note in self.notes]


def _claimed(checked: CheckedClaim) -> str:
    result, keys = checked.result, checked.spec.compare
    if isinstance(result, Claim) and result.word is not None:
        return str(result.word)
    if isinstance(result, Compared) and keys:
        often = "" if checked.spec.mean else "often "
        way = "more" if "more" in keys else "less"
        return f"{way} {often}{_named(keys[way], result).phrase}"
    return ""


def _named(name: str, result: Compared) -> Any:
    groups = (result.first, result.second)
    return next((g for g in groups if g.name == name), next((g for g in groups if g.name.startswith(name)), groups[0]))


@dataclass(frozen=True, eq=False)
class SheetResult:
    """All claims of a sheet, counted on a match.  Made by `run_claim_sheet`."""

    sheet: ClaimSheet
    checked: tuple[CheckedClaim, ...]
    match_words: str

    def __len__(self) -> int:
        return len(self.checked)

    def __iter__(self) -> Iterator[CheckedClaim]:
        return iter(self.checked)

    def __getitem__(self, number: int) -> CheckedClaim:
        """Return a claim by its number in the sheet, from 1."""
        if not 1 <= number <= len(self.checked):
            raise TacticalKitError(f"claim {number} is not in the sheet; it has 1 to {len(self.checked)}.")
        return self.checked[number - 1]

    @property
    def fallen(self) -> tuple[CheckedClaim, ...]:
        """The claims that do not hold."""
        return tuple(c for c in self.checked if not c.holds)

    @property
    def holds(self) -> bool:
        """True if all claims hold."""
        return not self.fallen

    @property
    def caution(self) -> str:
        """That some of many claims will fit by chance; "" for a single one."""
        n, level = len(self.checked), self.sheet.level
        if n < 2:
            return ""
        chance = min(99, math.floor(100 * (1 - level**n) + 0.5))
        return (
            f"{n} claims were checked. A {level * 100:g} % interval misses the truth in about 1 of "
            f"{round(1 / (1 - level))} cases; with {n} of them the chance that at least one does is about {chance} %. "
            "Claims that were tried and dropped count as well."
        )

    @property
    def table(self) -> pd.DataFrame:
        """One row a claim: number, claim, numbers, verdict, holds, sentence."""
        rows = [(c.spec.number, c.spec.text, c.numbers, c.short_verdict, c.holds, c.sentence) for c in self.checked]
        return pd.DataFrame(rows, columns=["number", "claim", "numbers", "verdict", "holds", "sentence"])

    @property
    def summary(self) -> str:
        """How many hold."""
        held = len(self) - len(self.fallen)
        return f"{held} of {counted(len(self), 'claim')} {'holds' if held == 1 else 'hold'} on {self.match_words}."

    def as_text(self, width: int = 110) -> str:
        """Return the table as text, then what does not hold and why, the remarks, and the caution.

        Parameters
        ----------
        width : int, default 110
            Columns of the terminal; less than 70 is taken as 70.
        """
        rest = max(width, 70) - 12 - 4
        widths = (rest * 32 // 100, rest * 38 // 100, rest - rest * 32 // 100 - rest * 38 // 100)
        lines = [f"{self.sheet.title}\n"] if self.sheet.title else []
        lines += _row(("", "", "claim", "count and interval", "verdict"), widths)
        lines.append("-" * (12 + 4 + sum(widths)))
        for c in self.checked:
            cells = (
                str(c.spec.number),
                "holds" if c.holds else "FALLS",
                c.spec.text,
                c.numbers or "-",
                c.short_verdict,
            )
            lines += _row(cells, widths)
        lines.append("")
        for c in self.fallen:
            lines += [*c.report(), ""]
        noted = [(c, n) for c in self.checked if c.holds for n in c.notes]
        lines += [f"claim {c.spec.number}, note: {n}" for c, n in noted] + ([""] if noted else [])
        lines.append(self.summary)
        if self.caution:
            lines += textwrap.wrap(self.caution, max(width, 70))
        return "\n".join(
            "".join(c if c.isprintable() else "�" for c in line) for text in lines for line in text.split("\n")
        )

    def __str__(self) -> str:
        return self.as_text()

    __repr__ = __str__

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{c.spec.number}</td><td>{'✓' if c.holds else '✗'}</td><td>{html.escape(c.spec.text)}</td>"
            f"<td>{html.escape(c.numbers)}</td><td>{html.escape(c.short_verdict)}</td></tr>"
            for c in self.checked
        )
        head = "<tr><th></th><th>holds</th><th>claim</th><th>count and interval</th><th>verdict</th></tr>"
        title = f"<caption>{html.escape(self.sheet.title)}</caption>" if self.sheet.title else ""
        below = "".join(f"<div>{'<br>'.join(html.escape(line) for line in c.report())}</div>" for c in self.fallen)
        words = f"<p>{html.escape(self.summary)} {html.escape(self.caution)}</p>"
        return f"<table>{title}{head}{rows}</table>{below}{words}"


def _row(cells: tuple[str, str, str, str, str], widths: tuple[int, int, int]) -> list[str]:
    # A number stays with its per cent.
    wrapped = [
        textwrap.wrap(text.replace(" %", "\N{NO-BREAK SPACE}%"), w) or [""] for text, w in zip(cells[2:], widths)
    ]
    lines = []
    for i in range(max(map(len, wrapped))):
        parts = [(column[i] if i < len(column) else "").ljust(w) for column, w in zip(wrapped, widths)]
        head = f"{cells[0]:>3}  {cells[1]:<5}  " if i == 0 else " " * 12
        lines.append((head + "  ".join(parts)).replace("\N{NO-BREAK SPACE}", " ").rstrip())
    return lines


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
