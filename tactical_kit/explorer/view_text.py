"""The state of an explorer as one short line that can be pasted into a notebook.

`all;list=shot;moment=shot-003;at=2:1092.4;ghost=no` is the whole match, the list of shots, the third shot
chosen, the cursor in the second half, the comparison switched off.  What stands before are the conditions of
`Selection.to_text`; what has its ordinary value is left out.  `list=shot;with=before_s:5;where=goal_distance_m:..16`
asks the finder of shots with another threshold and keeps those from 16 m or less.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from typing import Any

from tactical_kit.errors import TacticalKitError, check_choice, suggest
from tactical_kit.explorer.number_filters import ColumnFilter, parse_filters
from tactical_kit.measures.selection import CONDITIONS, Selection

__all__ = ["DEFAULT_LIST", "View"]

DEFAULT_LIST = "possession"
_KEYS = ("list", "with", "where", "compare", "moment", "at", "ghost")


@dataclass(frozen=True)
class View:
    """What an explorer shows: the selection, the list of moments, the moment chosen, the cursor, the ghost.

    Parameters
    ----------
    selection : Selection
        The filter.
    finder : str, default "possession"
        Whose moments are listed.
    moment : str
        Id of the moment chosen, "" none.
    at : (period, time_s), optional
        The cursor.
    ghost : bool, default True
        Whether the whole match stands behind the filtered values.
    thresholds : str
        Thresholds of the finder as text, "" its own; the finder itself reads them.
    filters : tuple of ColumnFilter
        What is asked of the finder's columns.
    compare : str
        What the halves are compared by, "" the page chooses.

    >>> view = View(Selection(team="home", phases="build-up"), at=(2, 1092.4))
    >>> view.to_text()
    'team=home;phase=build-up;at=2:1092.4'
    >>> View.from_text(view.to_text()) == view
    True
    """

    selection: Selection = field(default_factory=Selection)
    finder: str = DEFAULT_LIST
    moment: str = ""
    at: tuple[int, float] | None = None
    ghost: bool = True
    thresholds: str = ""
    filters: tuple[ColumnFilter, ...] = ()
    compare: str = ""

    def to_text(self) -> str:
        """Return the short line."""
        parts = [self.selection.to_text()]
        if self.finder != DEFAULT_LIST:
            parts.append(f"list={_escape(self.finder)}")
        if self.thresholds:
            parts.append(f"with={self.thresholds}")
        if self.filters:
            parts.append(f"where={'+'.join(f.to_text() for f in self.filters)}")
        if self.compare:
            parts.append(f"compare={self.compare}")
        if self.moment:
            parts.append(f"moment={_escape(self.moment)}")
        if self.at is not None:
            period, time_s = self.at
            seconds = f"{time_s:.2f}".rstrip("0").rstrip(".")
            parts.append(f"at={period}:{seconds}")
        if not self.ghost:
            parts.append("ghost=no")
        return ";".join(parts)

    @classmethod
    def from_text(cls, text: str) -> View:
        """Read the line back; every fault is in the one message.

        Raises
        ------
        TacticalKitError
            A part that is unknown, stands twice or cannot be read, with what was expected.
        """
        if not isinstance(text, str):
            raise TacticalKitError(f"view is a {type(text).__name__}; expected the short text of `explorer.view`.")
        own: dict[str, Any] = {}
        rest, faults, seen = [], [], set()
        for part in (p.strip() for p in text.strip().split(";")):
            key, equals, raw = part.partition("=")
            if key in _KEYS and equals:
                if key in seen:
                    faults.append(f"{key!r} stands twice")
                    continue
                seen.add(key)
                try:
                    own[key] = _read(key, raw)
                except TacticalKitError as error:
                    faults.append(f"{part!r}: {error}")
            elif equals and key not in CONDITIONS.values() and key != "threshold":
                known = [*CONDITIONS.values(), "threshold", *_KEYS]
                faults.append(f"{part!r}: unknown; expected one of {', '.join(known)}.{suggest(key, known)}")
            else:
                rest.append(part)
        selection = Selection()
        try:
            selection = Selection.from_text(";".join(p for p in rest if p != "all"))
        except TacticalKitError as error:
            faults.append(str(error).partition("cannot be read: ")[2] or str(error))
        if faults:
            raise TacticalKitError(f"view {text!r} cannot be read: " + "; ".join(faults))
        return cls(
            selection, own.get("list", DEFAULT_LIST), own.get("moment", ""), own.get("at"), own.get("ghost", True),
            own.get("with", ""), own.get("where", ()), own.get("compare", ""),
        )  # fmt: skip


def _read(key: str, raw: str) -> Any:
    if key == "ghost":
        return check_choice("ghost", raw, ("yes", "no")) == "yes"
    if key == "at":
        period, _, seconds = raw.partition(":")
        try:
            number, time_s = int(period), float(seconds)
        except ValueError:
            raise TacticalKitError("expected period:seconds, as at=2:1092.4") from None
        if not (1 <= number <= 5 and math.isfinite(time_s) and time_s >= 0):
            raise TacticalKitError("expected a period from 1 to 5 and seconds from 0 up, as at=2:1092.4")
        return number, time_s
    if key == "where":
        return parse_filters(raw) if raw else ()
    if key in ("with", "compare"):
        return raw
    return _unescape(raw)


def _escape(text: str) -> str:
    return re.sub(
        r"[^A-Za-z0-9.-]", lambda m: "_" if m[0] == " " else "".join(f"%{b:02X}" for b in m[0].encode()), text
    )


def _unescape(text: str) -> str:
    from urllib.parse import unquote

    return unquote(text.replace("_", " "))
