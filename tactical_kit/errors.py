"""The kit's own errors: each says what was met, what was expected and how to mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = ["MissingDataError", "TacticalKitError", "UnknownNameError", "check_choice", "suggest"]


class TacticalKitError(ValueError):
    """Base of every error that the kit raises on purpose."""


class UnknownNameError(TacticalKitError):
    """A name (of a team, player, phase, zone, finder...) that the match or the kit does not know."""


class MissingDataError(TacticalKitError):
    """The data at hand cannot support what was asked; the message says what is missing and what would do."""


def suggest(value: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """Return " Did you mean 'x'?" for a near spelling among `known`, or an empty text.

    `cutoff` is how alike they must be, 0 to 1, as in `difflib.get_close_matches`.

    >>> suggest("mid block", ["mid-block", "low block"])
    " Did you mean 'mid-block'?"
    >>> suggest("zzz", ["mid-block"])
    ''
    """
    near = difflib.get_close_matches(str(value), list(known), n=1, cutoff=cutoff)
    return f" Did you mean {near[0]!r}?" if near else ""


def check_choice(name: str, value: str, known: Iterable[str]) -> str:
    """Return `value` if it is one of `known`; otherwise raise `UnknownNameError` listing them all.

    >>> check_choice("side", "in", ["in", "out"])
    'in'
    >>> check_choice("side", "inn", ["in", "out"])
    Traceback (most recent call last):
    tactical_kit.errors.UnknownNameError: side is 'inn'; expected one of 'in', 'out'. Did you mean 'in'?
    """
    known = list(known)
    if value in known:
        return value
    listed = ", ".join(repr(k) for k in known)
    raise UnknownNameError(f"{name} is {value!r}; expected one of {listed}.{suggest(value, known)}")
