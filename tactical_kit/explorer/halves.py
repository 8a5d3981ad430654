"""One half against the other: how often a finder's moments came in each, and how their numbers differ."""

from __future__ import annotations

import math
from dataclasses import dataclass
from urllib.parse import quote, unquote

import numpy as np

from tactical_kit.claims.comparison import Comparison, compare
from tactical_kit.claims.means import MeanComparison, compare_means
from tactical_kit.claims.rates import RateComparison, compare_rates
from tactical_kit.claims.splits import split_by_halves
from tactical_kit.errors import MissingDataError
from tactical_kit.explorer.number_filters import NUMBER, OwnColumn, choices_of, numbers_of
from tactical_kit.explorer.store import Store
from tactical_kit.finders.context import possession_at
from tactical_kit.match import Match
from tactical_kit.moments import Moments
from tactical_kit.phases import find_possessions

__all__ = ["Halves", "compare_halves_of", "compared_by", "time_of", "write_compare"]

_STEPS = 16  # of a distribution
_MOSTLY = 2 / 3


@dataclass(frozen=True, eq=False)
class Halves:
    """What the halves of a match are compared by, and what came out.

    Parameters
    ----------
    first, second : Moments
        Of each half.
    rate : RateComparison or None
        How often in equal time; None with the reason in `no_rate`.
    no_rate : str
        Why there is no rate.
    column : OwnColumn or None
        What their numbers are compared by.
    word : str
        Of a column of words, the one whose share is compared.
    compared : Comparison, MeanComparison or None
        The difference with its interval.
    edges : tuple of float
        Limits of the steps of a number.
    words : tuple of str
        The words of a column of words, the most frequent first.
    shares : two tuples of (count, share)
        Of each half: how many, and which part of the known ones, lie in each step or say each word.
    """

    first: Moments
    second: Moments
    rate: RateComparison | None = None
    no_rate: str = ""
    column: OwnColumn | None = None
    word: str = ""
    compared: Comparison | MeanComparison | None = None
    edges: tuple[float, ...] = ()
    words: tuple[str, ...] = ()
    shares: tuple[tuple[tuple[int, float], ...], tuple[tuple[int, float], ...]] = ((), ())


def compare_halves_of(store: Store) -> Halves:
    """Compare the halves by the moments that the store lists."""
    key = ("halves", store.finding, store.selection)
    return store.found.kept(key, lambda: _compare(store))


def _compare(store: Store) -> Halves:
    moments = store.moments
    first, second = (moments.where(period=number) for number in (1, 2))
    rate, no_rate = _rate(store, moments)
    column, word = compared_by(store)
    if column is None:
        return Halves(first, second, rate, no_rate)
    if column.kind == NUMBER:
        compared = compare_means(moments, column.name, split_by_halves(), match=store.match)
        edges, shares = _steps(column, first, second)
        return Halves(first, second, rate, no_rate, column, "", compared, edges, (), shares)
    # The share of a word is of all that fit but for what is asked of that very column.
    asked = store.finding.filter_of(column.name)
    of = moments if asked is None else store.found.shown(store.finding.without(column.name), store.selection)
    said = choices_of(of.table[column.name])
    known = of.where([bool(s) for s in said])
    said = [s for s in said if s]
    hit = known.where([word in s for s in said])
    compared_share = compare(hit, known, split_by_halves(), match=store.match)
    period = known.table["period"].to_numpy()
    words = _words_by_count(said)
    counted = [[sum(w in s for s, p in zip(said, period) if p == number) for w in words] for number in (1, 2)]
    of_half = [int((period == number).sum()) for number in (1, 2)]
    in_first, in_second = (
        tuple((n, n / base if base else math.nan) for n in counts) for counts, base in zip(counted, of_half)
    )
    return Halves(first, second, rate, no_rate, column, word, compared_share, (), tuple(words), (in_first, in_second))


def _words_by_count(said: list[tuple[str, ...]]) -> list[str]:
    count: dict[str, int] = {}
    for row in said:
        for word in dict.fromkeys(row):
            count[word] = count.get(word, 0) + 1
    return sorted(count, key=lambda w: (-count[w], w))


def _steps(
    column: OwnColumn, first: Moments, second: Moments
) -> tuple[tuple[float, ...], tuple[tuple[tuple[int, float], ...], tuple[tuple[int, float], ...]]]:
    """Both halves in the same steps."""
    numbers = [numbers_of(part.table[column.name]) for part in (first, second)]
    numbers = [n[np.isfinite(n)] for n in numbers]
    both = np.concatenate(numbers)
    if not len(both):
        return (), ((), ())
    low, high = float(both.min()), float(both.max())
    if column.whole and high - low < _STEPS:
        edges = np.arange(low - 0.5, high + 1)
    else:
        edges = np.linspace(low, max(high, low + 1e-9), _STEPS + 1)
    shares = []
    for n in numbers:
        counts, _ = np.histogram(n, bins=edges)
        shares.append(tuple((int(c), c / len(n) if len(n) else math.nan) for c in counts))
    return tuple(edges.tolist()), (shares[0], shares[1])


def _rate(store: Store, moments: Moments) -> tuple[RateComparison | None, str]:
    selection = store.selection
    if len(store.match.periods) < 2:
        return None, "The match has one period only."
    if selection.team is None:
        return None, "How often in equal time is told of one side: choose one."
    other = [c for c in selection.active if c != "team"]
    if other:
        return None, "How often in equal time is told without other conditions than the side: reset the filter."
    try:
        return compare_rates(
            store.match, moments.where(team=selection.team), split_by_halves(), team=selection.team,
            time=time_of(store.match, store.all_moments),
        ), ""  # fmt: skip
    except MissingDataError as error:
        return None, str(error)


def time_of(match: Match, moments: Moments) -> str:
    """Return which time a finder's moments are counted in.

    "in possession" where two in three of them or more begin while their side has the ball, "out of possession" where
    the other side has it, else "in play".  A team that had more of the ball had more occasions.
    Source: common practice, no source.
    """
    table = moments.table
    if not len(table):
        return "in play"
    row = possession_at(match, table["period"].to_numpy(), table["start_s"].to_numpy(float))
    held = row >= 0
    if not held.any():
        return "in play"
    has = find_possessions(match).table["team"].to_numpy()[row[held]] == table["team"].to_numpy()[held]
    share = float(np.mean(has))
    return "in possession" if share >= _MOSTLY else "out of possession" if share <= 1 - _MOSTLY else "in play"


def compared_by(store: Store) -> tuple[OwnColumn | None, str]:
    """Return the column, and of a column of words the word, that the halves are compared by.

    By what was chosen; else by the outcome, by the first yes or no, or by the first number that tells.
    """
    facets = [f for f in store.facets if f.choices or math.isfinite(f.low)]
    name, _, word = store.finding.compare.partition(":")
    name, word = unquote(name), unquote(word)
    chosen = next((f for f in facets if f.column.name == name), None)
    if chosen is None:
        telling = [f for f in facets if f.tells and f.column.name != "time_s"] or facets
        order = [
            [f for f in telling if f.column.name == "outcome"],
            [f for f in telling if f.column.kind == "yes or no"],
            [f for f in telling if f.column.kind == NUMBER],
            telling,
        ]
        chosen = next((found[0] for found in order if found), None)
        word = ""
    if chosen is None:
        return None, ""
    if chosen.column.kind == NUMBER:
        return chosen.column, ""
    known = [v for v, _ in chosen.choices]
    return chosen.column, word if word in known else "yes" if "yes" in known else known[0] if known else ""


def write_compare(column: str, word: str = "") -> str:
    """Return the text for `Finding.compare`."""
    return quote(column, safe="") + (f":{quote(word, safe='')}" if word else "")
