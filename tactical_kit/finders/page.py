"""The page of all finders, written from the register: what each finds, needs, measures, and with which thresholds."""

from __future__ import annotations

import inspect

from tactical_kit.finders.registry import Finder, finder_names, get_finder

__all__ = ["describe_finder", "finders_page"]

_HEAD = """# All finders

Written from the register by `python -m tactical_kit.finders.page`; a test keeps it equal. Each finder is one
documented function: `help(tk.find_switches)`. Call it by function or by name, `tk.find(match, "switch")`; every
threshold is a keyword and stands in `.params` of what was found. Each has `moment_id, finder, period, start_s, end_s,
team, players, x, y` first; x and y are in metres in the attacking frame of `team`.

How well they find what the script of simulated matches meant is in [ACCURACY.md](ACCURACY.md).
"""


def describe_finder(finder: Finder) -> str:
    """Return one finder in Markdown: sentence, needs, columns with units, thresholds with defaults."""
    needs = " and ".join(finder.needs) or "nothing"
    lines = [f"## {finder.name}", "", finder.finds, "", f"- **Call** `{_call_of(finder)}`", f"- **Needs** {needs}"]
    if finder.columns:
        lines += ["", "| column | unit | says |", "|---|---|---|"]
        lines += [f"| {name} | {_unit(c.unit, c.dtype)} | {c.words} |" for name, c in finder.columns.items()]
    if finder.thresholds:
        said = ", ".join(f"`{name}={value!r}`" for name, value in finder.thresholds.items())
        lines += ["", f"Thresholds: {said}"]
    return "\n".join(lines)


def finders_page() -> str:
    """Return the whole page."""
    return "\n\n".join([_HEAD.strip(), *(describe_finder(get_finder(name)) for name in finder_names())]) + "\n"


def _call_of(finder: Finder) -> str:
    function = inspect.unwrap(finder.function)
    return f"{function.__name__}(match)"


def _unit(unit: str, dtype: str) -> str:
    plain = {"float64": "number", "int64": "count", "bool": "yes or no", "boolean": "yes, no or unknown", "str": "word"}
    return unit or plain.get(dtype, "players")


if __name__ == "__main__":
    from pathlib import Path

    import tactical_kit.finders  # noqa: F401  (registers them)

    Path(__file__).with_name("FINDERS.md").write_text(finders_page(), encoding="utf-8")
