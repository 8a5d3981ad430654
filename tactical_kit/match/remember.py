"""Answers kept as long as their match: the same question about the same match is worked out once."""

from __future__ import annotations

import functools
import inspect
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from tactical_kit.errors import TacticalKitError
from tactical_kit.match.model import Match

__all__ = ["KEPT", "forget", "remembered"]

KEPT = 256  # answers a match; the one that was asked for longest ago goes first
_Function = TypeVar("_Function", bound=Callable[..., Any])


class _Memory:
    """What is known about one match, with a print of its events to notice a change made in place."""

    def __init__(self) -> None:
        self.lock = threading.RLock()  # a page and a notebook cell may ask at once
        self.answers: OrderedDict[tuple[object, ...], object] = OrderedDict()
        self.depth = 0  # questions that are being answered; only the outermost looks at the events
        self.events_print: int | None = None


_LOCK = threading.Lock()
_PLACE = "_memory"


def remembered(function: _Function) -> _Function:
    """Keep the answers of a function of a match, by match and by the values of all its parameters.

    A `Match` is not changed in place (`Match.with_data` makes another one, with a memory of its own), so an
    answer stays true as long as the match lives, and goes with it.  Events that were changed in place all the same
    are refused in words rather than answered from the old ones; the arrays of the tracking are too large to be watched.
    A function that is written anew under the same name (a cell run again) is another one.

    Parameters
    ----------
    function : callable
        Takes a match first.  Called with a parameter that cannot be hashed it just runs.

    Returns
    -------
    callable
        The same function.  Moments and tables are handed out as shallow copies, so that a caller may add columns and
        write into them; any other answer must not be changed by the caller.
    """
    signature = inspect.signature(function)

    @functools.wraps(function)
    def ask(match: Match, *args: Any, **kwargs: Any) -> Any:
        given = signature.bind(match, *args, **kwargs)
        given.apply_defaults()
        values = {name: v for name, v in given.arguments.items() if v is not match}
        key = (function, *(_frozen(v) for v in values.values()))
        memory = _memory_of(match)
        with memory.lock:
            if memory.depth == 0:
                _refuse_changed_events(match, memory)
            try:
                known = key in memory.answers
            except TypeError:  # not hashable
                return function(match, *args, **kwargs)
            if known:
                memory.answers.move_to_end(key)
                return _handed_out(memory.answers[key])
            memory.depth += 1
            try:
                answer = function(match, *args, **kwargs)
            finally:
                memory.depth -= 1
            memory.answers[key] = answer
            while len(memory.answers) > KEPT:
                memory.answers.popitem(last=False)
            return _handed_out(answer)

    return ask  # type: ignore[return-value]


def forget(match: Match) -> None:
    """Drop everything that is remembered about a match; the next question is worked out anew."""
    with _LOCK:
        match.__dict__.pop(_PLACE, None)


def _memory_of(match: Match) -> _Memory:
    # Kept by the match itself: a table beside it could not let go of it, as some answers hold the match.
    with _LOCK:
        memory: _Memory = match.__dict__.setdefault(_PLACE, _Memory())
        return memory


def _handed_out(answer: Any) -> Any:
    if isinstance(answer, pd.DataFrame):
        return answer.copy(deep=False)
    return answer.shallow() if hasattr(answer, "shallow") else answer


def _frozen(value: object) -> object:
    """Return the key of a parameter: type and value, as 1, 1.0 and True are equal and not the same question."""
    if isinstance(value, dict):
        return tuple((name, _frozen(v)) for name, v in value.items())
    if isinstance(value, list | tuple):
        return tuple(_frozen(v) for v in value)
    return type(value), value


def _refuse_changed_events(match: Match, memory: _Memory) -> None:
    if match.events is None:
        return
    rows = np.zeros(len(match.events), np.uint64)
    for number, name in enumerate(match.events.columns):
        try:
            column = pd.util.hash_pandas_object(match.events[name], index=False).to_numpy()
        except TypeError:  # lists or dicts in a column of the user's own
            continue
        rows += column * np.uint64(2 * number + 1)  # which column a value stands in counts
    now = int((rows * (2 * np.arange(len(rows), dtype=np.uint64) + 1)).sum())  # the order of the rows counts
    if memory.events_print is None:
        memory.events_print = now
    elif memory.events_print != now:
        raise TacticalKitError(
            f"the events of {match!r} were changed in place after they had been used. Change a copy and make a new "
            "match of it: match.with_data(events=changed)."
        )
