"""A match story as text and as HTML."""

from __future__ import annotations

import html
import textwrap
from typing import TYPE_CHECKING

from tactical_kit.story.facts import TOPICS

if TYPE_CHECKING:
    from tactical_kit.story.tell import Story, StoryLine

__all__ = ["story_html", "story_text"]

_HEADS = {"frequent": "What was frequent", "changed": "What changed at the interval", "unusual": "What was unusual"}
_SHOWN = 6  # minute marks behind a line; the rest are counted


def story_text(story: Story, width: int | None = None) -> str:
    """Return the outline as plain text, folded at a width if one is given; numbers are places in the story."""

    def fold(text: str, indent: str = "") -> str:
        if width is None:
            return text
        kept = text.replace(" %", "\N{NO-BREAK SPACE}%")  # a number stays with its per cent
        folded = textwrap.fill(kept, max(width, 40), subsequent_indent=indent, break_on_hyphens=False)
        return folded.replace("\N{NO-BREAK SPACE}", " ")

    parts = [fold(_title(story)), fold(story.caution), ""]
    for topic, kind, lines in _sections(story):
        parts += [f"{topic}: {_HEADS[kind].lower()}"]
        for number, line in lines:
            parts.append(fold(f"  [{number}] {line.text} ({_marks(story, line)})", " " * 7))
        parts.append("")
    if not len(story):
        parts += ["Nothing to tell: too few instances, or nothing that stands out.", ""]
    if story.counts:
        parts.append(fold(_counted(story)))
    parts += [fold(f"Not looked for: {name} ({why}).") for name, why in story.skipped.items()]
    return "\n".join(parts).rstrip()


def story_html(story: Story) -> str:
    """Return the outline as HTML for a notebook."""
    parts = [f"<h3>{html.escape(_title(story))}</h3><p>{html.escape(story.caution)}</p>"]
    for topic, kind, lines in _sections(story):
        items = "".join(
            f'<li value="{number}">{html.escape(line.text)}<br><small>{html.escape(_marks(story, line))}</small></li>'
            for number, line in lines
        )
        parts.append(f"<h4>{html.escape(topic)}: {html.escape(_HEADS[kind].lower())}</h4><ol>{items}</ol>")
    if not len(story):
        parts.append("<p>Nothing to tell: too few instances, or nothing that stands out.</p>")
    if story.counts:
        parts.append(f"<p>{html.escape(_counted(story))}</p>")
    if story.skipped:
        names = "; ".join(f"{name} ({why})" for name, why in story.skipped.items())
        parts.append(f"<p>Not looked for: {html.escape(names)}.</p>")
    return "".join(parts)


def _title(story: Story) -> str:
    match = story.match
    label = f" ({match.label})" if match.label else ""
    return f"{match.home.name} v {match.away.name}{label}: a first outline"


def _counted(story: Story) -> str:
    """Return how many moments there were of either side, a finder at a time."""
    home, away = (team.team_id for team in story.match.teams)
    numbers = "; ".join(f"{name} {by[home]} v {by[away]}" for name, by in story.counts.items())
    names = " v ".join(team.name for team in story.match.teams)
    return f"Moments that were looked at, {names}: {numbers}."


def _sections(story: Story) -> list[tuple[str, str, list[tuple[int, StoryLine]]]]:
    """Group the lines, numbered as they stand in `story.lines`, by topic and kind."""
    numbered = list(enumerate(story.lines))
    sections = []
    for topic in TOPICS:
        for kind in _HEADS:
            lines = [(n, line) for n, line in numbered if (line.topic, line.kind) == (topic, kind)]
            if lines:
                sections.append((topic, kind, lines))
    return sections


def _marks(story: Story, line: StoryLine) -> str:
    """Return where to look: the minutes of the first moments behind a line."""
    table = line.moments.table
    marks = [story.match.clock.label(int(p), float(s)) for p, s in zip(table["period"], table["start_s"])]
    more = f" and {len(marks) - _SHOWN} more" if len(marks) > _SHOWN else ""
    where = ", ".join(marks[:_SHOWN]) + more if marks else f"none of {len(line.of)}"
    return f"{line.of.finder}: {where}"
