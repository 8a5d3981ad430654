"""The words that every chart carries: match, filter, direction of attack, why a picture is empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tactical_kit.match import Match
from tactical_kit.measures.selection import Selection
from tactical_kit.scenes.scene import KeyItem

__all__ = [
    "attack_words", "brief_name", "disc_label", "empty_message", "hover_lines", "match_words", "short_name", "side_key",
    "side_of", "signed", "subtitle_words",
]  # fmt: skip


def match_words(match: Match) -> str:
    """Return "Alder Town v Beck Rovers, 14 May 2031"; without the day if it is unknown."""
    day = f", {match.day.day} {match.day:%B %Y}" if match.day else ""
    return f"{match.home.name} v {match.away.name}{day}"


def subtitle_words(match: Match, selection: Selection) -> str:
    """Return the match and, on a line of its own, the filter in words with its minutes; the side is in the title."""
    words = selection.words(match)
    if selection.team is not None:  # the title names the side
        words = words.removeprefix(match.team(selection.team).name).lstrip(", ")
    return f"{match_words(match)}\n{words[:1].upper()}{words[1:]}"


def brief_name(match: Match, side: int) -> str:
    """Return the short name of a side, its full name where both sides share the short one."""
    team, other = match.teams[side], match.teams[1 - side]
    return team.name if team.short_name == other.short_name else team.short_name


def side_of(match: Match, selection: Selection) -> int | None:
    """Return 0 or 1 for the side a selection is about, None for both."""
    return None if selection.team is None else match.team_index(selection.team)


def attack_words(match: Match, selection: Selection) -> str:
    """Return which way the picture is to be read: the attacking frame runs from left to right."""
    if selection.team is None:
        return "both sides turned to attack\u00a0→"
    return f"{brief_name(match, match.team_index(selection.team))} attack\u00a0→"


def empty_message(what: str, because: str) -> str:
    """Return the words across an empty pitch; `because` names the condition that emptied it."""
    return f"No {what} left to draw." + (f"\n{because}" if because else "")


def signed(value: float, digits: int = 0) -> str:
    """Return a difference with an arrow for its sign: "▲ 6", "▼ 3", "= 0" where it rounds to nothing.

    >>> signed(6.2), signed(-3.4), signed(0.2)
    ('▲ 6', '▼ 3', '= 0')
    """
    rounded = round(abs(value), digits)
    return f"{'=' if rounded == 0 else '▲' if value > 0 else '▼'} {rounded:.{digits}f}"


def side_key(match: Match, side: int | None, text: str) -> tuple[KeyItem, ...]:
    """Return the legend entry of a side's mark; both sides where `side` is None."""
    sides: Sequence[int] = (0, 1) if side is None else (side,)
    return tuple(KeyItem(("home", "away")[s], f"{match.teams[s].name}{text}") for s in sides)


def short_name(name: str) -> str:
    """Return the last word of a name; of several names (a shared position) the last word of each.

    >>> short_name("Ada van Ash / Bo Birch")
    'Ash / Birch'
    """
    return " / ".join(part.split()[-1] for part in name.split(" / ") if part.split())


def disc_label(label: str) -> str:
    """Return what fits inside a disc: shirt numbers as they are, a name as its initials.

    >>> disc_label("10"), disc_label("4/14"), disc_label("Ada van Ash-Rill"), disc_label("Bo/Cy Elm")
    ('10', '4/14', 'AvA', 'B/CE')
    """
    return "/".join(p if p.isdigit() else "".join(w[0] for w in p.split())[:3] for p in label.split("/"))


def hover_lines(title: str, facts: Mapping[str, Any]) -> str:
    """Return the text under the pointer: a title, then one fact a line; empty facts are left out."""
    return "\n".join([title, *(f"{name}: {value}" for name, value in facts.items() if value not in ("", None))])
