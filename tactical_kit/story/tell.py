"""The first outline of a match: every finder is run, every fact counted; what is told leads to its moments."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from tqdm.auto import tqdm

from tactical_kit.claims import (
    SHARE_WORDS,
    Claim,
    Condition,
    Split,
    add_to_claim_sheet,
    claim,
    compare,
    compare_halves,
    compare_means,
    matching,
    newcombe_interval,
    split_by_halves,
    wilson_interval,
)
from tactical_kit.claims.base import possessions_of
from tactical_kit.claims.verdict import COUNTED, FEW, SUPPORTED, judge_share
from tactical_kit.errors import MissingDataError, TacticalKitError
from tactical_kit.finders import find, finder_names, get_finder
from tactical_kit.match import Match
from tactical_kit.moments import CORE_COLUMNS, Moments
from tactical_kit.story.facts import FACTS, NUMBERS, SINGLES, TOPICS, Fact, Number
from tactical_kit.story.page import story_html, story_text
from tactical_kit.story.shapes import shape_lines
from tactical_kit.story.single import far_out

__all__ = ["KINDS", "Story", "StoryLine", "match_story"]

KINDS = ("frequent", "changed", "unusual")
_TOLD = ("always", "almost always", "usually", "mostly", "never", "almost never", "seldom")  # strongest first


@dataclass(frozen=True, eq=False)
class StoryLine:
    """One line of the outline.

    Parameters
    ----------
    kind : str
        "frequent", "changed" or "unusual".
    topic : str
        One of `TOPICS`.
    team : str
        Whose line it is, by id; "" for a line about both.
    text : str
        The sentence, with count, share and interval.
    moments, of : Moments
        The instances it is true of, and all that were looked at.
    strength : float
        How strong the finding is, for the order of lines within a topic; compare only within a kind.
    entry : dict
        The line as a claim of a claim sheet: what `add_to_claim_sheet(path, **line.entry)` takes; empty for single
        moments.
    """

    kind: str
    topic: str
    team: str
    text: str
    moments: Moments
    of: Moments
    strength: float
    entry: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Story:
    """A first outline of one match, made by `match_story`.

    Parameters
    ----------
    match : Match
        The match.
    lines : tuple of StoryLine
        In order of topic, kind and strength.
    counts : dict
        Finder -> {team id -> number of moments}.
    skipped : dict
        Finder -> why it could not be run.
    asked : int
        How many shares and means were compared; the more, the more differ by chance alone.
    level : float
        Of the intervals.
    """

    match: Match
    lines: tuple[StoryLine, ...]
    counts: dict[str, dict[str, int]]
    skipped: dict[str, str]
    asked: int
    level: float

    def __iter__(self) -> Iterator[StoryLine]:
        return iter(self.lines)

    def __len__(self) -> int:
        return len(self.lines)

    def where(self, kind: str | None = None, topic: str | None = None, team: str | None = None) -> Story:
        """Return the story with some of its lines: of a kind, a topic, a side (with those about both sides)."""
        side = None if team is None else self.match.team(team).team_id
        kept = tuple(
            line
            for line in self.lines
            if kind in (None, line.kind) and topic in (None, line.topic) and (side is None or line.team in (side, ""))
        )
        return Story(self.match, kept, self.counts, self.skipped, self.asked, self.level)

    @property
    def caution(self) -> str:
        """What the reader of such a list has to know."""
        start = "An outline to start from, no findings: look at the moments before you write."
        if self.asked < 2:
            return start
        by_chance = self.asked * (1 - self.level)
        many = f"{by_chance:.0f}" if by_chance >= 1 else f"{by_chance:.1f}"
        return (
            f"{self.asked} shares and means were compared between halves or sides; about {many} of them would look "
            f"clear by chance alone. {start}"
        )

    def to_text(self, width: int | None = None) -> str:
        """Return the outline as plain text, one line a finding with its number; folded at a width if one is given."""
        return story_text(self, width)

    def add_to_sheet(self, path: str | Path) -> int:
        """Add every line that is a claim to a claim sheet, and return how many were added or stood there already.

        Lines about single moments, and differences between the sides, are no claims of a sheet.
        """
        entries = [line.entry for line in self.lines if line.entry]
        for entry in entries:
            add_to_claim_sheet(path, **entry)
        return len(entries)

    def __str__(self) -> str:
        return self.to_text()

    def _repr_html_(self) -> str:
        return story_html(self)


def match_story(
    match: Match,
    *,
    few: int = FEW,
    level: float = 0.95,
    seed: int = 0,
    facts: tuple[Fact, ...] = FACTS,
    numbers: tuple[Number, ...] = NUMBERS,
    singles: tuple[Number, ...] = SINGLES,
    progress: bool = True,
) -> Story:
    """Run every finder that the data allow and outline the match: what is frequent, what changed, what is unusual.

    Parameters
    ----------
    match : Match
        With events, tracking or both; finders that lack their data are named in `skipped`.
    few : int, default 10
        With fewer instances nothing is told (in either half, for a change; of either side, for a difference).
    level : float, default 0.95
        Of the intervals.
    seed : int, default 0
        For the draws of possessions.
    facts, numbers, singles : tuple of Fact and of Number
        What is asked: shares, means, and numbers of single moments; those of the kit by default.
    progress : bool, default True
        Show a bar of the finders once it takes over a second.

    Returns
    -------
    Story
        frequent: a word for how often is supported by the whole interval (the strongest one is told).
        changed: the halves differ, the interval of the difference leaving out 0 (shapes: another one was held longest).
        unusual: the sides differ in the same way, or a single moment lies far outside the others.

    Notes
    -----
    Every fact is asked of both sides.  Nothing is corrected for asking so many: `caution` says how many were
    asked and how many would differ by chance.  Source: common practice, no source.
    """
    names = [n for n in finder_names() if n not in ("phase", "possession")]
    found: dict[str, Moments] = {}
    skipped: dict[str, str] = {}
    for name in tqdm(names, desc="Finders", delay=1.0, leave=False, disable=not progress):
        missing = get_finder(name).missing(match)
        if missing:
            skipped[name] = f"needs {' and '.join(missing)}"
            continue
        try:
            found[name] = find(match, name)
        except MissingDataError as why:
            skipped[name] = str(why)
    teller = _Teller(match, found, few, level, seed)
    for fact in facts:
        if fact.finder in found:
            teller.share(fact, found[fact.finder])
    for number in numbers:
        if number.finder in found:
            teller.mean(number, found[number.finder])
    for number in singles:
        if number.finder in found:
            teller.single(number, found[number.finder])
    if "line-up shape" in found:
        for kind, team, text, inside, rows in shape_lines(found["line-up shape"], match):
            spells = found["line-up shape"]
            teller.tell(kind, "Shape", team, text, spells.where(inside), spells.where(rows), 0.0, {})
    ids = [team.team_id for team in match.teams]

    def place(line: StoryLine) -> tuple[int, int, int, float]:
        # What is frequent stands side by side; of what changed or is unusual the strongest stands first.
        side = ids.index(line.team) if line.kind == "frequent" else 0
        return TOPICS.index(line.topic), KINDS.index(line.kind), side, -line.strength

    order = sorted(teller.lines, key=place)
    counts = {
        name: {t.team_id: int((moments["team"] == t.team_id).sum()) for t in match.teams}
        for name, moments in found.items()
    }
    return Story(match, tuple(order), counts, skipped, teller.asked, level)


class _Teller:
    """Asks the facts of one match and keeps the lines worth telling."""

    def __init__(self, match: Match, found: dict[str, Moments], few: int, level: float, seed: int) -> None:
        self.match, self.found, self.few, self.level, self.seed = match, found, few, level, seed
        self._possession: dict[str, dict[str, int]] = {}
        self._met: dict[tuple[str, tuple[str, ...]], tuple[Moments, Moments]] = {}
        self.lines: list[StoryLine] = []
        self.asked = 0

    def _options(self, of: Moments) -> dict[str, Any]:
        """What every question is asked with; the possession of each moment is looked up once a finder."""
        name = of.finder
        if name not in self._possession:
            whole = self.found[name]
            labels = possessions_of(whole, self.match)
            self._possession[name] = dict(zip(whole["moment_id"], range(len(whole)) if labels is None else labels))
        known = self._possession[name]
        labels = np.array([known[i] for i in of["moment_id"]], np.int64)
        return {"possession": labels, "few": self.few, "level": self.level, "seed": self.seed}

    def share(self, fact: Fact, found: Moments) -> None:
        """Ask how often it was so: of each side, of its halves, and of one side against the other."""
        of, bare = self._meeting(found, fact.of)
        hit = np.ones(len(of), bool)
        for condition in fact.where:
            hit &= Condition.of(condition).mask(of, self.match)
        side, half = of["team"].to_numpy(object), of["period"].to_numpy(int)
        keys = {"finder": fact.finder, "of": list(fact.of), "where": list(fact.where)}
        for team in self.match.teams:
            rows = side == team.team_id
            entry = {**keys, "team": team.team_id}
            if self._may_bear_a_word(hit[rows]):
                mine, true = bare.where(rows), bare.where(rows & hit)
                said = claim(fact.says, true, mine, **self._options(mine))
                word = _strongest(said, self.few)
                if word:
                    text = f"{team.name} {word} {fact.says}"
                    self.tell(
                        "frequent", fact.topic, team.team_id, f"{text}: {said.numbers}.", of.where(rows & hit),
                        of.where(rows), len(mine), {**entry, "text": text, "word": word},
                    )  # fmt: skip
            if self._may_differ(hit[rows & (half == 1)], hit[rows & (half == 2)]):
                mine, true = bare.where(rows), bare.where(rows & hit)
                halves = compare_halves(true, mine, **self._options(mine))
                if halves.could_be_chance is False:
                    more = (halves.second if halves.difference > 0 else halves.first).name
                    change = {
                        **entry,
                        "text": f"{team.name} {fact.says}, more often in the {more}",
                        "compare": {"by": "halves", "more": more},
                    }
                    self.tell(
                        "changed", fact.topic, team.team_id, f"{team.name} {fact.says}: {halves.numbers}.",
                        of.where(rows & hit), of.where(rows), abs(halves.difference), change,
                    )  # fmt: skip
        if self._may_differ(*(hit[side == team.team_id] for team in self.match.teams)):
            sides = compare(bare.where(hit), bare, self._by_side(), **self._options(bare))
            if sides.could_be_chance is False:
                text = f"The sides differ in how often they {fact.says}: {sides.numbers}."
                self.tell("unusual", fact.topic, "", text, of.where(hit), of, abs(sides.difference), {})

    def mean(self, number: Number, found: Moments) -> None:
        """Ask whether the mean of a number changed between the halves."""
        of, _ = self._meeting(found, number.of)
        for team in self.match.teams:
            mine = of.where(team=team.team_id)
            if not self._enough(mine):
                continue
            try:
                said = compare_means(mine, number.column, split_by_halves(), **self._options(mine))
            except TacticalKitError:
                continue  # the column is unknown throughout
            if said.could_be_chance is None:
                continue  # unknown for too many
            self.asked += 1
            if said.could_be_chance is False:
                text = f"{team.name}, {number.says}: {said.numbers}."
                strength = abs(said.difference) / (float(np.nanstd(mine[number.column].to_numpy(float))) or 1.0)
                more = (said.second if said.difference > 0 else said.first).name
                entry = {
                    "finder": number.finder, "of": list(number.of), "team": team.team_id, "mean": number.column,
                    "text": f"{team.name}, {number.says}: more in the {more}",
                    "compare": {"by": "halves", "more": more},
                }  # fmt: skip
                self.tell("changed", number.topic, team.team_id, text, mine, mine, strength, entry)

    def single(self, number: Number, found: Moments) -> None:
        """Tell the moments whose number lies far outside those of all others."""
        of, _ = self._meeting(found, number.of)
        for row, text in far_out(of, number, self.match):
            one = of.where(np.arange(len(of)) == row)
            self.tell("unusual", number.topic, of.table["team"].iloc[row], text, one, of, 0.0, {})

    # -- what the questions share ------------------------------------------------------------------------

    def _meeting(self, moments: Moments, conditions: tuple[str, ...]) -> tuple[Moments, Moments]:
        """Return the moments that meet conditions, and the same without the finder's own columns, quicker to part."""
        key = (moments.finder, conditions)
        if key not in self._met:
            met = matching(moments, list(conditions), self.match) if conditions else moments
            self._met[key] = met, Moments(met.table[list(CORE_COLUMNS)], met.finder, met.params, met.match_id)
        return self._met[key]

    def _enough(self, moments: Moments) -> bool:
        return all(int((moments["period"] == half).sum()) >= self.few for half in (1, 2))

    # Intervals only grow where possessions are drawn: what the plain one does not bear need not be drawn.

    def _may_bear_a_word(self, hit: NDArray[np.bool_]) -> bool:
        count, base = int(hit.sum()), len(hit)
        if base < self.few:
            return False
        interval = wilson_interval(count, base, self.level)
        words = (SHARE_WORDS[word] for word in _TOLD)
        return any(judge_share(count, base, interval, w, few=self.few).status == SUPPORTED for w in words)

    def _may_differ(self, first: NDArray[np.bool_], second: NDArray[np.bool_]) -> bool:
        if min(len(first), len(second)) < self.few:
            return False
        self.asked += 1
        return 0 not in newcombe_interval(int(second.sum()), len(second), int(first.sum()), len(first), self.level)

    def _by_side(self) -> Split:
        names = {t.team_id: t.name for t in self.match.teams}
        return Split(
            tuple(names.values()),
            lambda part: np.array([names[t] for t in part["team"]], dtype=object),
            lambda name: f"for {name}",
        )

    def tell(
        self, kind: str, topic: str, team: str, text: str, part: Moments, of: Moments, strength: float,
        entry: dict[str, Any],
    ) -> None:  # fmt: skip
        self.lines.append(StoryLine(kind, topic, team, text, part, of, float(strength), entry))


def _strongest(said: Claim, few: int) -> str:
    """Return the strongest word that the whole interval supports, "" for none worth telling."""
    for word in _TOLD:
        verdict = judge_share(said.count, said.base, said.judged_on, SHARE_WORDS[word], few=few)
        if said.verdict.status == COUNTED and verdict.status == SUPPORTED:
            return word
    return ""
