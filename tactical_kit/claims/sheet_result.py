"""What came of a claim sheet: a row a claim, what does not hold and why, as text, table and page."""

from __future__ import annotations

import html
import math
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from tactical_kit.claims.base import counted
from tactical_kit.claims.compared import Compared, Group
from tactical_kit.claims.shares import Claim
from tactical_kit.claims.sheet import ClaimSheet, ClaimSpec, claim_place
from tactical_kit.claims.verdict import UNDECIDED, Verdict
from tactical_kit.errors import TacticalKitError

__all__ = ["CheckedClaim", "ClaimsDoNotHold", "SheetResult"]

_SHOWN = 12  # counterexamples that are named


class ClaimsDoNotHold(TacticalKitError, AssertionError):
    """Claims of a sheet that the match does not bear; `result` holds them all with their moments."""

    def __init__(self, result: SheetResult) -> None:
        self.result = result
        head = (
            f"{len(result.fallen)} of {counted(len(result), 'claim')} of {result.sheet.path.name} "
            f"{'does' if len(result.fallen) == 1 else 'do'} not hold on this match."
        )
        super().__init__("\n".join([head, *(line for one in result.fallen for line in one.report())]))

    def __reduce__(self) -> tuple[type[ClaimsDoNotHold], tuple[SheetResult]]:
        return type(self), (self.result,)


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


def _named(name: str, result: Compared) -> Group:
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
        share = 100 * (1 - level**n)
        chance = f"about {min(99, math.floor(share + 0.5))} %" if share >= 1 else "less than 1 %"
        return (
            f"{n} claims were checked. A {level * 100:g} % interval misses the truth in about 1 of "
            f"{round(1 / (1 - level))} cases; with {n} of them the chance that at least one does is {chance}. "
            "Claims that were tried and dropped count as well."
        )

    @property
    def table(self) -> pd.DataFrame:
        """One row a claim: number, claim, numbers, verdict, holds, sentence."""
        rows = [(c.spec.number, c.spec.text, c.numbers, c.short_verdict, c.holds, c.sentence) for c in self.checked]
        return pd.DataFrame(rows, columns=["number", "claim", "numbers", "verdict", "holds", "sentence"])

    @property
    def summary(self) -> str:
        """How many hold, and how many of them because another verdict was expected of them."""
        held = len(self) - len(self.fallen)
        hold = "holds" if 1 in (held, len(self)) else "hold"
        expected = sum(bool(c.spec.expect) and c.holds for c in self.checked)
        but = f", {expected} of them by the verdict that the sheet expects" if expected else ""
        return f"{held} of {counted(len(self), 'claim')} {hold} on {self.match_words}{but}."

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
            lines += [*(part for line in c.report() for part in _folded(line, width)), ""]
        noted = [(c, n) for c in self.checked if c.holds for n in c.notes]
        lines += [part for c, n in noted for part in _folded(f"claim {c.spec.number}, note: {n}", width)]
        lines += [""] if noted else []
        lines += _folded(self.summary, width)
        if self.caution:
            lines += _folded(self.caution, width)
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


def _folded(line: str, width: int) -> list[str]:
    """Fold a line, what hangs over indented as far as the line itself; a number stays with its per cent."""
    indent = " " * (len(line) - len(line.lstrip()))
    kept = line.replace(" %", "\N{NO-BREAK SPACE}%")
    parts = textwrap.wrap(kept, max(width, 70), subsequent_indent=indent, break_long_words=False) or [""]
    return [part.replace("\N{NO-BREAK SPACE}", " ") for part in parts]


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
