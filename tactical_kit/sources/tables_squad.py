"""Who played: the squads of a mapped match, given in the mapping, in a table of their own, or told from the data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tactical_kit.errors import suggest
from tactical_kit.match import Player, Team
from tactical_kit.sources.mapping import Mapping, TablePlan, Words, fold
from tactical_kit.sources.problems import Problems
from tactical_kit.sources.tables_file import Sheet, open_sheet
from tactical_kit.sources.tables_values import Column, numbers, to_words

__all__ = ["Roster", "read_roster"]


@dataclass
class _Entry:
    player_id: str
    name: str
    shirt: int | None = None
    position: str = ""
    starter: bool | None = None  # None: told from the data


@dataclass
class Roster:
    """Both squads while they are being put together, and the look-up from the file's way to name a player.

    Parameters
    ----------
    ids, names, shorts : list of str
        Of the home and the away side.
    how : str
        "ids", "names" or "shirts": what the player columns hold.
    given : bool
        False if the squads are told from the data, so that a new name is a new player.
    """

    ids: list[str]
    names: list[str]
    shorts: list[str]
    how: str = "ids"
    given: bool = False
    blind: bool = False  # the squads themselves are faulty, which has been said: nobody is missed
    squads: tuple[list[_Entry], list[_Entry]] = field(default_factory=lambda: ([], []))
    on_both: list[str] = field(default_factory=list)  # told from the data: one name on both sides
    _known: dict[tuple[int, str], str] = field(default_factory=dict)

    def add(self, side: int, entry: _Entry) -> None:
        """Add a player to a side."""
        self.squads[side].append(entry)
        self._known[side, self._key(entry)] = entry.player_id

    def _key(self, entry: _Entry) -> str:
        if self.how == "shirts":
            return str(entry.shirt)
        return fold(entry.name) if self.how == "names" else entry.player_id

    def find(self, cell: str, side: int | None) -> str | None:
        """Return the id of the player a cell names; None if nobody, or two players, can be meant."""
        key = fold(cell) if self.how == "names" else cell.removesuffix(".0") if self.how == "shirts" else cell
        sides = (0, 1) if side is None else (side,)
        found = {self._known[s, key] for s in sides if (s, key) in self._known}
        if not found and side is not None and self.how != "shirts":  # a receiver may be an opponent
            found = {self._known[s, key] for s in (0, 1) if (s, key) in self._known}
        return found.pop() if len(found) == 1 else None

    def meet(self, cell: str, side: int) -> str:
        """Return the id of a player of a side, adding the player if the squads are told from the data."""
        if self.given:
            return self.find(cell, side) or ""
        key = fold(cell) if self.how == "names" else cell.removesuffix(".0") if self.how == "shirts" else cell
        if (side, key) in self._known:
            return self._known[side, key]
        if self.how == "shirts":
            shirt = int(float(cell)) if cell.replace(".", "", 1).isdigit() else None
            entry = _Entry(
                f"{self.ids[side]}-{cell.removesuffix('.0')}", f"{self.names[side]} {cell.removesuffix('.0')}", shirt
            )
        elif (1 - side, key) in self._known:
            self.on_both.append(cell)
            entry = _Entry(f"{self.ids[side]}-{cell}", cell)
        else:
            entry = _Entry(cell, cell)
        self.squads[side].append(entry)
        self._known[side, key] = entry.player_id
        return entry.player_id

    def known(self) -> list[str]:
        """List what cells may hold."""
        return [{"ids": e.player_id, "names": e.name, "shirts": str(e.shirt)}[self.how] for s in self.squads for e in s]

    def teams(self, started: set[str] | None) -> tuple[Team, Team]:
        """Make both sides; where nothing is said of a player, he started if he is in `started`."""
        made = []
        for side in (0, 1):
            players = tuple(
                Player(
                    e.player_id,
                    e.name,
                    self.ids[side],
                    e.shirt,
                    e.position,
                    bool(e.starter) if e.starter is not None else started is None or e.player_id in started,
                )
                for e in self.squads[side]
            )
            made.append(Team(self.ids[side], self.names[side], self.shorts[side], players))
        return made[0], made[1]

    @property
    def starters_unknown(self) -> bool:
        """True if somebody's start has to be told from the data."""
        return any(e.starter is None for squad in self.squads for e in squad)


def read_roster(mapping: Mapping, problems: Problems) -> Roster:
    """Put the squads together from the mapping, or from the squad table that it names."""
    match: dict[str, Any] = dict(mapping.raw.get("match", {}))
    sides = []
    for word in ("home", "away"):
        given = match.get(word, {})
        given = {"name": given} if isinstance(given, str) else given
        name = given.get("name", word.capitalize())
        sides.append((given.get("id", word), name, given.get("short", name)))
    squad: dict[str, Any] = dict(mapping.raw.get("squad", {}))
    roster = Roster(
        [s[0] for s in sides],
        [s[1] for s in sides],
        [s[2] for s in sides],
        squad.get("players_are", "ids"),
        blind=mapping.faulty("squad", "match") or "match" in mapping.faults,
        given=mapping.faulty("squad") or "home" in squad or "away" in squad or mapping.squad is not None,
    )
    if roster.ids[0] == roster.ids[1]:
        problems.add(
            mapping.path, f"the id {roster.ids[0]!r} for both sides", "two ids", "Mend match.home or match.away.",
            mapping.line_of("match.away"), "match.away",
        )  # fmt: skip
    # The sides' own ids and names are words for them, too.
    table = mapping.words._known["team"]
    for index, word in enumerate(("home", "away")):
        for known in sides[index]:
            table.setdefault(fold(known), word)
    for side, word in enumerate(("home", "away")):
        for raw in squad.get(word, []):
            _add_inline(mapping, roster, side, word, raw, problems)
    if mapping.squad is not None and "file" in mapping.squad.lost:
        roster.blind = True
    elif mapping.squad is not None:
        _add_table(mapping.squad, roster, mapping.words, problems)
    _check_twice(mapping, roster, problems)
    return roster


def _add_inline(
    mapping: Mapping, roster: Roster, side: int, word: str, raw: dict[str, Any], problems: Problems
) -> None:
    shirt, name = raw.get("shirt"), raw.get("name", "")
    player_id = raw.get("id") or (f"{roster.ids[side]}-{shirt}" if shirt is not None else name)
    if not player_id:
        problems.add(
            mapping.path,
            "a player without id, name or shirt",
            "at least one of them",
            'As { id = "h7", name = "A. Player", shirt = 7 }.',
            mapping.line_of(f"squad.{word}"),
            f"squad.{word}",
        )
        return
    roster.add(side, _Entry(player_id, name or player_id, shirt, raw.get("position", ""), raw.get("starter")))


def _add_table(plan: TablePlan, roster: Roster, words: Words, problems: Problems) -> None:
    before = len(problems.errors)
    sheet = open_sheet(plan.path, problems, plan.sheet, plan.delimiter, plan.encoding, header_row=plan.header_row)
    if sheet is None or not has_columns(sheet, plan.columns.values(), problems):
        roster.blind = True
        return
    roster.blind = not sheet.whole or len(problems.errors) > before
    if not len(sheet):
        problems.add(plan.path, "no player", "at least one row below the header", "Check that the export is whole.")
        roster.blind = True
        return

    def column(name: str) -> Column | None:
        header = plan.columns.get(name)
        return None if header is None else Column(sheet.path, header, sheet.cells[header], sheet.rows)

    team_column = column("team")
    assert team_column is not None  # the mapping was refused otherwise
    team, _ = to_words(team_column, "team", words, problems, strict=True)
    shirts, starters = column("shirt"), column("starter")
    shirt = numbers(shirts, problems, plan.decimal) if shirts else np.full(len(sheet), np.nan)
    starter = (
        to_words(starters, "starter", words, problems, strict=True)[0] if starters else np.full(len(sheet), "", object)
    )
    for i in range(len(sheet)):
        text = {
            n: str(sheet.cells[plan.columns[n]][i]) if n in plan.columns else "" for n in ("player", "name", "position")
        }
        if team[i] == "" or not (text["player"] or text["name"]):
            if team[i] == "" and not str(team_column.cells[i]):
                team_column.note(problems, i, "an empty cell", "the team of the player", "Fill it in.")
            elif team[i]:
                problems.add(
                    plan.path,
                    "a player without id and name",
                    "one of them",
                    "Fill it in, or remove the row.",
                    int(sheet.rows[i]),
                )
            roster.blind = True  # who that was is not known: nobody is missed later
            continue
        number = None if np.isnan(shirt[i]) else int(shirt[i])
        roster.add(
            0 if team[i] == "home" else 1,
            _Entry(
                text["player"] or text["name"],
                text["name"] or text["player"],
                number,
                text["position"],
                starter[i] == "yes" if starter[i] else None,
            ),
        )


def _check_twice(mapping: Mapping, roster: Roster, problems: Problems) -> None:
    file = mapping.squad.path if mapping.squad is not None else mapping.path
    seen: set[str] = set()
    for squad in roster.squads:
        for entry in squad:
            if entry.player_id in seen:
                problems.add(
                    file,
                    f"the player {entry.player_id!r} twice",
                    "an id of its own for each player",
                    "Mend one of the two.",
                )
            seen.add(entry.player_id)
    if roster.how == "shirts":
        for side, squad in enumerate(roster.squads):
            shirts = [e.shirt for e in squad]
            for shirt in sorted({s for s in shirts if s is not None and shirts.count(s) > 1}):
                problems.add(
                    file,
                    f"shirt {shirt} twice in the squad of {roster.names[side]}",
                    "a shirt for one player",
                    "Mend one of the two.",
                )


def has_columns(sheet: Sheet, wanted: Iterable[str], problems: Problems) -> bool:
    """Tell whether a sheet has all columns that a mapping names; note each that is missing."""
    return check_columns(sheet.path, sheet.columns, wanted, problems, sheet.broken)


def check_columns(
    path: Path, columns: Iterable[str], wanted: Iterable[str], problems: Problems, broken: frozenset[str] = frozenset()
) -> bool:
    """Tell whether all wanted headers are among `columns`; note each that is missing, unless headers are `broken`."""
    there, wanted = list(columns), list(wanted)
    if broken:  # what is missing may be the header that occurs twice, or not at all
        return not broken & set(wanted) and not set(wanted) - set(there)
    whole = True
    missing = [name for name in wanted if name not in there]
    if missing and len(there) == 1:
        problems.add(
            path,
            f"one column only, {there[0]!r}",
            "the columns that the mapping names",
            "Check that the file is a table, and the delimiter in the mapping.",
            1,
        )
        return False
    for name in dict.fromkeys(wanted):
        if name not in there:
            whole = False
            shown = ", ".join(there[:12]) + (f" and {len(there) - 12} more" if len(there) > 12 else "")
            problems.add(
                path,
                f"no column {name!r}",
                "the columns that the mapping names",
                f"The header has {shown}.{suggest(name, there) or _same_but_case(name, there)}",
                1,
            )
    return whole


def _same_but_case(name: str, there: list[str]) -> str:
    same = [t for t in there if fold(t) == fold(name)]
    return f" Did you mean {same[0]!r}?" if same else ""
