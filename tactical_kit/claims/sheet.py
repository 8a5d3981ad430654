"""A claim sheet: what an analyst says about a match, in a small text file beside it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Any

from tactical_kit.claims.conditions import Condition
from tactical_kit.claims.interval import check_level
from tactical_kit.claims.verdict import FEW, NO_INSTANCES, NOT_BORNE, SUPPORTED, TOO_FEW, UNDECIDED
from tactical_kit.claims.words import contradicted, no_word, share_word, word_in, word_table
from tactical_kit.errors import TacticalKitError, check_choice, suggest
from tactical_kit.measures.words import PHASES, SCORE_STATES

__all__ = [
    "CLAIM_KEYS", "COMPARISONS", "RATES", "SHEET_KEYS", "ClaimSheet", "ClaimSheetError", "ClaimSpec", "claim_place",
    "claim_spec", "read_claim_sheet",
]  # fmt: skip

SHEET_KEYS: dict[str, str] = {
    "title": "of the sheet",
    "match": "the match it speaks of, a path seen from the sheet, or demo; left out, the folder it lies in",
    "few": "fewer instances than this are too few to judge (10)",
    "level": "of the intervals (0.95)",
    "strict": "true: a claim holds only where the interval bears it, not where the share alone fits",
    "words": "a table of words and the shares they stand for, as usually = [0.6, 1.0]",
    "claim": "the claims, each under [[claim]]",
}
CLAIM_KEYS: dict[str, str] = {
    "text": "the claim, as it will be published",
    "finder": "what is counted",
    "thresholds": "of the finder, as { within_m = 8 }",
    "team": "home, away, or the name of a side",
    "segment": "'first half', '60:00-75:00', 'from 60:00', 'until 30:00'",
    "phase": "of the side when the moment begins; a list means any of them",
    "opponent_phase": "of the other side then",
    "score": "leading, level or trailing",
    "of": "a list of conditions: which of the moments are looked at",
    "where": "a list of conditions: what the claim says of them",
    "word": "how often: usually, seldom, 'two in three', 'at least 60 %'",
    "mean": "instead of a share: the column whose means are compared",
    "rate": "instead of a share: how often in 30 minutes, 'in possession', 'out of possession' or 'in play'",
    "compare": "by = halves, score, minute, substitution, player, phase or column; more or less = a group; than = "
    "another group",
    "expect": "the verdict that is expected, where it is another than that the claim holds",
    "few": "as for the sheet",
    "note": "a remark of your own",
}
COMPARISONS: dict[str, tuple[str, ...]] = {
    # what a comparison is by, and the keys it needs beside `more` or `less` and `than`
    "halves": (),
    "score": (),
    "minute": ("at",),
    "substitution": ("player",),
    "player": ("player",),
    "phase": (),
    "column": ("column",),
}
RATES = ("in possession", "out of possession", "in play")
_RATED = ("halves", "score", "minute", "substitution")  # what time can be split by
EXPECTED = (SUPPORTED, UNDECIDED, NOT_BORNE, TOO_FEW, NO_INSTANCES)
_CLOCK = r"\d{1,3}(?:\+\d{1,2})?:[0-5]\d(?:\.\d+)?"
SEGMENT = re.compile(
    rf"(first half|second half)|({_CLOCK})\s*(?:-|–|to)\s*({_CLOCK})|(from|until)\s+({_CLOCK})", re.IGNORECASE
)
_CHOICES = {"phase": PHASES, "opponent_phase": PHASES, "score": SCORE_STATES}
_TEXT_OR_LIST = tuple(_CHOICES)


class ClaimSheetError(TacticalKitError):
    """A claim sheet that cannot be read or does not fit the match; `faults` holds every reason, a line each."""

    def __init__(self, faults: list[str], what: str = "no claim was checked") -> None:
        self.faults, self.what = tuple(faults), what
        head = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__("\n".join([f"{head}; {what}.", *faults]))

    def __reduce__(self) -> tuple[type[ClaimSheetError], tuple[list[str], str]]:
        return type(self), (list(self.faults), self.what)


@dataclass(frozen=True)
class ClaimSpec:
    """One claim of a sheet, as it is written there; see `CLAIM_KEYS`.

    Parameters
    ----------
    number : int
        Its place in the sheet, from 1.
    text, finder : str
        The claim in words, and what is counted.
    thresholds : mapping
        Of the finder.
    team, segment : str
        "" means both sides, the whole match.
    phase, opponent_phase, score : tuple of str
        Any of them; () means whatever they are.
    of, where : tuple of Condition
        Which moments are looked at; what the claim says of them.
    word : str
        For how often, "" if there is none.
    mean, rate : str
        The column whose means are compared; what the time counts of which rates are compared.
    compare : mapping
        by, more or less, than, at, player, column.
    expect : str
        The verdict that is expected, "" for a claim that shall hold.
    few : int or None
        Fewer instances than this are too few.
    note : str
        A remark.
    """

    number: int
    text: str
    finder: str
    thresholds: Mapping[str, Any] = field(default_factory=dict)
    team: str = ""
    segment: str = ""
    phase: tuple[str, ...] = ()
    opponent_phase: tuple[str, ...] = ()
    score: tuple[str, ...] = ()
    of: tuple[Condition, ...] = ()
    where: tuple[Condition, ...] = ()
    word: str = ""
    mean: str = ""
    rate: str = ""
    compare: Mapping[str, str] = field(default_factory=dict)
    expect: str = ""
    few: int | None = None
    note: str = ""

    def to_table(self) -> dict[str, Any]:
        """Return the keys that are set, as they stand in a sheet."""
        table: dict[str, Any] = {}
        for key in CLAIM_KEYS:
            value = getattr(self, key)
            if value in ("", (), None) or (isinstance(value, Mapping) and not value):
                continue
            if key in ("of", "where"):
                value = [c.to_text() for c in value]
            elif key in _TEXT_OR_LIST:
                value = value[0] if len(value) == 1 else list(value)
            elif isinstance(value, Mapping):
                value = dict(value)
            table[key] = value
        return table


@dataclass(frozen=True)
class ClaimSheet:
    """What stands in a claim sheet; see `SHEET_KEYS`."""

    path: Path
    claims: tuple[ClaimSpec, ...]
    title: str = ""
    match: str = ""
    few: int = FEW
    level: float = 0.95
    strict: bool = False
    words: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", MappingProxyType(dict(self.words)))

    def __len__(self) -> int:
        return len(self.claims)

    @property
    def match_path(self) -> Path:
        """Where its match lies: what the key `match` says, seen from the sheet, or the folder of the sheet."""
        return self.path.parent / self.match if self.match else self.path.parent

    def place(self, claim: ClaimSpec) -> str:
        """Return "sheet.toml, claim 2 (“They switch...”)", the head of every fault."""
        return f"{self.path.name}, {claim_place(claim.number, claim.text)}"


def claim_place(number: int, text: object) -> str:
    """Return how a claim is named in a fault."""
    short = " ".join(text.split()) if isinstance(text, str) else ""
    short = "".join(c if c.isprintable() else "�" for c in short)
    if len(short) > 40:
        short = short[:39] + "…"
    return f"claim {number}" + (f" (“{short}”)" if short else "")


def read_claim_sheet(path: str | Path) -> ClaimSheet:
    """Read a claim sheet; every fault of it is reported together.

    Parameters
    ----------
    path : str or Path
        A TOML file; the keys are those of `SHEET_KEYS` and, under [[claim]], of `CLAIM_KEYS`.

    Returns
    -------
    ClaimSheet
        The claims as they are written; `run_claim_sheet` counts them.

    Raises
    ------
    ClaimSheetError
        No file, no TOML, unknown keys, values of the wrong kind, conditions that cannot be read; all at once.

    Notes
    -----
    Nothing in a sheet is ever run as a program.
    """
    path = Path(path)
    try:
        raw = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (IsADirectoryError, PermissionError) as error:
        what = "a folder" if path.is_dir() else "a file that may not be read"
        raise ClaimSheetError([f"{path}: met {what}; expected a claim sheet (.toml)."]) from error
    except (FileNotFoundError, NotADirectoryError) as error:
        near = [p.name for p in path.parent.glob("*.toml")] if path.parent.is_dir() else []
        raise ClaimSheetError(
            [f"{path}: there is no such file; expected a claim sheet (.toml).{suggest(path.name, near)}"]
        ) from error
    except UnicodeDecodeError as error:
        raise ClaimSheetError([f"{path.name}: met bytes that are not UTF-8; save it as UTF-8 text."]) from error
    except tomllib.TOMLDecodeError as error:
        raise ClaimSheetError([_not_toml(path, str(error))]) from error
    faults: list[str] = []
    values = _sheet_values(raw, path.name, faults)
    claims = _claims(raw.get("claim", []), path.name, values.get("words", {}), faults)
    if not claims and not faults:
        faults.append(f"{path.name}: holds no claim; expected at least one [[claim]].")
    if faults:
        raise ClaimSheetError(faults)
    return ClaimSheet(path, tuple(claims), **values)


_BACKSLASH = "expected \\\\ for each \\, or the text in single quotes"
_TOML_HINTS = (
    ("Cannot overwrite a value", "the key stands twice"),
    ("Cannot mutate immutable", "expected each claim under [[claim]], not some in a list"),
    ("Cannot declare", "expected each claim under [[claim]], in double brackets"),
    ("Invalid value", "expected a text in quotes, a number, true, false, a list [...] or a table {...}"),
    ("Invalid initial", "expected a key; a table {...} stands on one line"),
    ("Illegal character '\\n'", "a text is not closed on its line; expected a quote at its end"),
    ("Expected '='", "expected key = value, or a comment after #"),
    ("Expected newline", "more stands there than one value; expected one, and 1.5 with a point"),
    ("Unescaped", _BACKSLASH),
    ("Invalid hex", _BACKSLASH),
)


def _not_toml(path: Path, why: str) -> str:
    """Name the line, the claim and the text that cannot be read as TOML, and what was expected there."""
    head = f"{path.name}: cannot be read as TOML"
    found = re.search(r" \(at line (\d+), column \d+\)$", why)
    if found is None:
        return f"{head}: {why}."
    # A text that is not closed is noticed at the start of the next line.
    lines = path.read_bytes().decode("utf-8-sig").split("\n")
    number = min(int(found[1]), len(lines))
    line = lines[number - 1].strip()
    claim = sum(re.fullmatch(r"\s*\[\[\s*claim\s*\]\]\s*(#.*)?", one) is not None for one in lines[:number])
    place = f"line {number}" + (f", {claim_place(claim, '')}" if claim else "")
    key = re.match(r"([\w-]+|\"[^\"]*\")\s*=", line)
    place += f", key {key[1]!r}" if key else ""
    hint = next((words for start, words in _TOML_HINTS if why.startswith(start)), "")
    if any(mark in line for mark in "“”„‘’") and why.startswith(("Invalid value", "Invalid initial")):
        hint = 'expected straight quotes, " at either end, not those of a word processor'
    return f"{head}: {place}: met {line[:80]!r}; {hint or why.removesuffix(found[0])}."


def _sheet_values(raw: Mapping[str, Any], name: str, faults: list[str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for key, value in raw.items():
        if key == "claim":
            continue
        try:
            values[key] = _sheet_value(key, value)
        except TacticalKitError as error:
            faults.append(f"{name}, key {key!r}: {error}")
            values.pop(key, None)
    return values


def _sheet_value(key: str, value: Any) -> Any:
    if key not in SHEET_KEYS:
        hint = suggest(key, SHEET_KEYS)
        if key in CLAIM_KEYS:
            hint = " It is a key of a claim; it stands under its [[claim]]."
        raise TacticalKitError(f"not known; expected {', '.join(SHEET_KEYS)}.{hint}")
    if key == "few":
        return _few(value)
    if key == "level":
        return check_level(value)
    if key == "words":
        if not isinstance(value, Mapping):
            raise TacticalKitError(f"met {value!r}; expected a table of words, as usually = [0.6, 1.0].")
        word_table(value)
        return dict(value)
    if key == "strict":
        if not isinstance(value, bool):
            raise TacticalKitError(f"met {value!r}; expected true or false.")
        return value
    return _text(value)


def _few(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 1:
        raise TacticalKitError(f"met {value!r}; expected a whole number of instances from 1 up.")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise TacticalKitError(f"met {value!r}; expected a text.")
    return value.strip()


def _claims(raw: Any, name: str, words: Mapping[str, Any], faults: list[str]) -> list[ClaimSpec]:
    if not isinstance(raw, list) or not all(isinstance(c, Mapping) for c in raw):
        faults.append(f"{name}, key 'claim': met {raw!r}; expected claims, each under [[claim]].")
        return []
    result = []
    for number, table in enumerate(raw, 1):
        place = f"{name}, {claim_place(number, table.get('text'))}"
        spec = claim_spec(table, number, words, place, faults)
        if spec is not None:
            result.append(spec)
    return result


def claim_spec(
    table: Mapping[str, Any], number: int, words: Mapping[str, Any], place: str, faults: list[str]
) -> ClaimSpec | None:
    """Return a claim of its keys, or None where it has faults, which are added to the list."""
    before = len(faults)
    values: dict[str, Any] = {}
    for key, value in table.items():
        try:
            values[key] = _claim_value(key, value, words)
        except TacticalKitError as error:
            faults.append(f"{place}, key {key!r}: {error}")
        except _SeveralFaults as several:
            faults.extend(f"{place}, key {key!r}: {line}" for line in several.lines)
    for key in ("text", "finder"):
        if key not in table:
            faults.append(f"{place}: has no {key}; expected {CLAIM_KEYS[key]}.")
    if len(faults) == before:
        faults.extend(f"{place}: {line}" for line in _contradictions(values, words))
    return ClaimSpec(number, **values) if len(faults) == before else None


class _SeveralFaults(Exception):
    def __init__(self, lines: list[str]) -> None:
        self.lines = lines


def _claim_value(key: str, value: Any, words: Mapping[str, Any]) -> Any:
    if key not in CLAIM_KEYS:
        hint = suggest(key, CLAIM_KEYS)
        if key in SHEET_KEYS:
            hint = " It is a key of the whole sheet; it stands before the first [[claim]]."
        raise TacticalKitError(f"not known; expected {', '.join(CLAIM_KEYS)}.{hint}")
    if key in ("of", "where"):
        return _conditions(value)
    if key in _TEXT_OR_LIST:
        several = value if isinstance(value, list | tuple) else [value]
        return tuple(check_choice(key, _text(v), _CHOICES[key]) for v in several)
    if key == "thresholds":
        if not isinstance(value, Mapping):
            raise TacticalKitError(f"met {value!r}; expected a table, as {{ within_m = 8 }}.")
        return dict(value)
    if key == "few":
        return _few(value)
    if key == "compare":
        return _comparison(value)
    text = _text(value)
    choices = {"rate": RATES, "expect": EXPECTED}.get(key)
    if choices and text not in choices:
        raise TacticalKitError(f"met {text!r}; expected one of {', '.join(choices)}.{suggest(text, choices)}")
    if key == "word":
        share_word(text, words)
    if key == "segment" and not SEGMENT.fullmatch(text):
        raise TacticalKitError(
            f"met {text!r}; expected {CLAIM_KEYS['segment']}.{suggest(text, ['first half', 'second half'])}"
        )
    return text


def _conditions(value: Any) -> tuple[Condition, ...]:
    given = value if isinstance(value, list | tuple) else [value]
    result, wrong = [], []
    for one in given:
        try:
            result.append(Condition.of(one))
        except TacticalKitError as error:
            wrong.append(str(error))
    if wrong:
        raise _SeveralFaults(wrong)
    return tuple(result)


def _comparison(value: Any) -> dict[str, str]:
    table = {"by": value} if isinstance(value, str) else value
    if not isinstance(table, Mapping):
        raise TacticalKitError(f'met {value!r}; expected a table, as {{ by = "halves", more = "second half" }}.')
    wrong: list[str] = []
    by = table.get("by")
    if by not in COMPARISONS:
        wrong.append(f"by is {by!r}; expected one of {', '.join(COMPARISONS)}.{suggest(str(by), COMPARISONS)}")
    needed = COMPARISONS.get(str(by), ())
    known = ("by", "more", "less", "than", *needed)
    for key, one in table.items():
        if key not in known:
            all_keys = (*known, "at", "player", "column") if by not in COMPARISONS else known
            if key not in all_keys:
                wrong.append(f"{key!r} is not known here; expected {', '.join(known)}.{suggest(key, known)}")
        elif not isinstance(one, str) or not one.strip():
            wrong.append(f"{key} is {one!r}; expected a text.")
    wrong += [f"by {by!r} needs the key {key!r}." for key in needed if key not in table]
    if ("more" in table) == ("less" in table):
        wrong.append("needs one of more and less: the group in which it was more, or less, often.")
    if isinstance(table.get("at"), str) and not re.fullmatch(_CLOCK, table["at"].strip()):
        wrong.append(f"at is {table['at']!r}; expected a match clock, as '60:00' or '45+1:30'.")
    if wrong:
        raise _SeveralFaults(wrong)
    return {k: v.strip() for k, v in table.items()}


def _contradictions(values: Mapping[str, Any], words: Mapping[str, Any]) -> list[str]:
    """Tell what does not go together in a claim whose single values are fine."""
    compared, wrong = "compare" in values, []
    if "mean" in values and "rate" in values:
        wrong.append("has both mean and rate; one claim is about one of them.")
    for key in ("mean", "rate"):
        if key in values and not compared:
            wrong.append(f"has {key} without compare; expected what it is compared between.")
    if "word" in values and compared:
        wrong.append("has both word and compare; make two claims of it.")
    share = "mean" not in values and "rate" not in values
    if share and not values.get("where"):
        wrong.append(f"has no where; expected {CLAIM_KEYS['where']}.")
    if share and not compared and "word" not in values and word_in(values["text"], words) is None:
        wrong.append(no_word(values["text"], words))
    if (
        not compared
        and "word" in values
        and (other := contradicted(values["text"], share_word(values["word"], words), words))
    ):
        wrong.append(other)
    if "mean" in values and values.get("where"):
        wrong.append("has both mean and where; write under `of` which moments the mean is taken of.")
    if "rate" in values and compared and values["compare"]["by"] not in _RATED:
        wrong.append(f"has rate compared by {values['compare']['by']}; time can be split by {', '.join(_RATED)}.")
    return wrong
