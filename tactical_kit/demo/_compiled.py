"""How the engine's functions are compiled: once each, for one kind of argument, kept on disk.

The first match after an installation has to wait for this (about half a minute on a free core); later ones
load the result in about a second.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from numba import njit, types

__all__ = ["compiled", "is_prepared"]


@cache
def _stamp() -> str:
    # the compiler looks only at the file of the function it loads; a change in any file of the engine must count
    content = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("_*.py")):
        content.update(path.read_bytes())
    return content.hexdigest()


def compiled(function: Callable[..., Any] | None = None, *, outer: bool = False) -> Any:
    """Compile an engine function on its first call, and keep the result on disk.

    Parameters
    ----------
    function : callable
        The function to compile.
    outer : bool
        True for the few that Python itself calls; the others are called by compiled functions only.

    Notes
    -----
    The compiler would make a copy of a function for every constant it is called with (``True``, ``-1``...);
    here a constant counts as any other number of its kind, which spares a third of the work.
    The result lies in the package's own folder, in the user's cache folder where that cannot be written to, and
    nowhere where neither can: then every process compiles anew.
    """
    if function is None:
        return lambda inner: compiled(inner, outer=outer)
    options: dict[str, Any] = {"error_model": "numpy", "no_cfunc_wrapper": True, "no_cpython_wrapper": not outer}
    try:
        made = njit(cache=True, **options)(function)
    except RuntimeError:  # no folder to keep it in
        made = njit(**options)(function)
    kept = _kept(made)
    if hasattr(kept, "_source_stamp"):
        kept._source_stamp = _stamp()
    compile_for = made.get_call_template

    def once(args: tuple[Any, ...], kws: dict[str, Any]) -> Any:
        return compile_for(tuple(types.unliteral(a) for a in args), kws)

    made.get_call_template = once
    return made


def _kept(made: Any) -> Any:
    return getattr(getattr(made, "_cache", None), "_cache_file", None)


def is_prepared(*functions: Any) -> bool:
    """Tell whether compiled forms of these functions wait in memory or on disk."""
    for function in functions:
        if function.signatures:
            continue
        kept = _kept(function)
        try:
            if kept is None or not kept._load_index():
                return False
        except (AttributeError, OSError, EOFError, ValueError):  # it cannot be told: say that it may take a while
            return False
    return True
