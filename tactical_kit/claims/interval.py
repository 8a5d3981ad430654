"""Intervals of shares and of differences of shares, and how they are written."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from statistics import NormalDist

from tactical_kit.errors import TacticalKitError

__all__ = ["Interval", "newcombe_interval", "percent", "points", "wilson_interval"]


@dataclass(frozen=True)
class Interval:
    """An interval from `low` to `high`, both included, and how often such intervals hold the true value.

    Parameters
    ----------
    low, high : float
        Its ends: shares from 0 to 1, or differences of shares from -1 to 1, or in the unit of a mean.
    level : float, default 0.95
        Share of such intervals that hold the true value.

    >>> wilson_interval(31, 37).words()
    '95 % interval 69-92 %'
    """

    low: float
    high: float
    level: float = 0.95

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high

    def within(self, low: float, high: float) -> bool:
        """Tell whether the whole interval lies from `low` to `high`, both included."""
        return self.low >= low and self.high <= high

    def around(self, other: Interval | None) -> Interval:
        """Return the interval that reaches as far as the wider of both at either end."""
        if other is None:
            return self
        return Interval(min(self.low, other.low), max(self.high, other.high), self.level)

    def reach(self, apart_from: Iterable[float] = ()) -> str:
        """Return "69-92 %", with as many decimals as it takes to keep the ends apart from some shares."""
        known = tuple(apart_from)
        return f"{percent(self.low, known)}-{percent(self.high, known)} %"

    def words(self, apart_from: Iterable[float] = ()) -> str:
        """Return "95 % interval 69-92 %" for an interval of a share."""
        return f"{percent(self.level)} % interval {self.reach(apart_from)}"


def percent(share: float, apart_from: Iterable[float] = ()) -> str:
    """Write a share in per cent; rounding never makes it 0 or 100, nor one of the shares it is to be kept apart from.

    >>> percent(31 / 37), percent(199 / 200), percent(0.6496, [0.65]), percent(1.0)
    ('84', '99.5', '64.96', '100')
    """
    for decimals in range(5):
        # Halves go up, as a reader would round 12.5; the first rounding takes the noise of floats away.
        text = str(Decimal(repr(round(share * 100, 9))).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP))
        if all(share == mark or (float(text) - mark * 100) * (share - mark) > 0 for mark in (0.0, 1.0, *apart_from)):
            return text
    return text


def points(difference: float, sign: bool = False) -> str:
    """Write a difference of shares in percentage points; rounding never makes it 0.

    >>> points(0.2496), points(-0.0155), points(0.004, sign=True)
    ('25', '-2', '+0.4')
    """
    text = percent(abs(difference), ())
    return ("-" if difference < 0 else "+" if sign and difference > 0 else "") + text


def check_level(level: float) -> float:
    """Return the level of an interval if it is one; 95 is taken for a slip of 0.95 and refused in words."""
    if isinstance(level, bool) or not isinstance(level, int | float) or not 0 < level < 1:
        raise TacticalKitError(f"level is {level!r}; expected a share between 0 and 1, as 0.95.")
    return float(level)


def check_count(count: int, base: int) -> None:
    """Refuse a count that is no count of a base."""
    if base < 0 or not 0 <= count <= base:
        raise TacticalKitError(f"{count} of {base} is no share; expected a count from 0 to the base.")


def wilson_interval(count: int, base: int, level: float = 0.95) -> Interval:
    """Return the Wilson interval of a share.

    Parameters
    ----------
    count, base : int
        How many of how many; with none of none there is no interval.
    level : float, default 0.95
        Share of such intervals that hold the true share, on average.

    Returns
    -------
    Interval
        From 0 to 1.

    Raises
    ------
    TacticalKitError
        A count outside 0 to base, a base of 0, a level outside 0 to 1.

    Notes
    -----
    It assumes that the instances do not depend on each other; where several come from one possession see
    `resampled_share`.
    Source: Wilson 1927, the formula as in the NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1.

    >>> found = wilson_interval(6, 32)
    >>> round(found.low, 6), round(found.high, 6)
    (0.088895, 0.353092)
    """
    check_count(count, base)
    if base == 0:
        raise TacticalKitError("no interval: there are no instances.")
    z = NormalDist().inv_cdf(0.5 + check_level(level) / 2)
    share = count / base
    middle = share + z * z / (2 * base)
    reach = z * math.sqrt(share * (1 - share) / base + z * z / (4 * base * base))
    scale = 1 + z * z / base
    # At the ends the formula is exact and only rounding keeps it off 0 and 1.
    low = 0.0 if count == 0 else (middle - reach) / scale
    high = 1.0 if count == base else (middle + reach) / scale
    return Interval(low, high, level)


def newcombe_interval(
    first_count: int, first_base: int, second_count: int, second_base: int, level: float = 0.95
) -> Interval:
    """Return the interval of the difference of two independent shares, first less second.

    Parameters
    ----------
    first_count, first_base, second_count, second_base : int
        How many of how many in either group.
    level : float, default 0.95
        Share of such intervals that hold the true difference, on average.

    Returns
    -------
    Interval
        From -1 to 1.

    Raises
    ------
    TacticalKitError
        A count outside 0 to base, a base of 0, a level outside 0 to 1.

    Notes
    -----
    Source: Newcombe 1998, the hybrid of two Wilson intervals without continuity correction ("method 10";
    number from memory).

    >>> found = newcombe_interval(31, 37, 20, 34)
    >>> round(found.low, 4), round(found.high, 4)
    (0.0394, 0.4364)
    """
    first, second = wilson_interval(first_count, first_base, level), wilson_interval(second_count, second_base, level)
    p, q = first_count / first_base, second_count / second_base
    low = p - q - math.hypot(p - first.low, second.high - q)
    high = p - q + math.hypot(first.high - p, q - second.low)
    return Interval(max(-1.0, low), min(1.0, high), level)
