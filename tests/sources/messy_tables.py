"""A small invented match, and its events as somebody might have typed them: units, origins, clocks, words.

Each convention holds the mapping's keys and the geometry by hand: how a place in metres from the centre spot of
a 105 x 68 m pitch is written in that convention.  Source of the conventions: common practice, no source.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np

from tactical_kit.match import Match, Period, Player, Team, events_table

XY = Callable[[float, float], tuple[float, float]]

# name -> (TOML of [coordinates] without the frame, writer)
PLACES: dict[str, tuple[str, XY]] = {
    "metres-centre": ('unit = "m"\norigin = "centre"', lambda x, y: (x, y)),
    "metres-centre-y-down": ('unit = "m"\ny_grows = "down"', lambda x, y: (x, -y)),
    "metres-centre-x-left": ('unit = "m"\nx_grows = "left"', lambda x, y: (-x, y)),
    "metres-corner": ('unit = "m"\norigin = "bottom-left"', lambda x, y: (x + 52.5, y + 34)),
    "metres-top-left": ('unit = "m"\norigin = "top-left"', lambda x, y: (x + 52.5, 34 - y)),
    "metres-top-right": ('unit = "m"\norigin = "top-right"', lambda x, y: (52.5 - x, 34 - y)),
    "metres-bottom-right": ('unit = "m"\norigin = "bottom-right"', lambda x, y: (52.5 - x, y + 34)),
    "centimetres-centre": ('unit = "cm"', lambda x, y: (x * 100, y * 100)),
    "yards-corner": ('unit = "yd"\norigin = "bottom-left"', lambda x, y: ((x + 52.5) / 0.9144, (y + 34) / 0.9144)),
    "per-cent-top-left": ('unit = "%"\norigin = "top-left"', lambda x, y: ((x + 52.5) / 1.05, (34 - y) / 0.68)),
    "per-cent-corner": ('unit = "%"\norigin = "bottom-left"', lambda x, y: ((x + 52.5) / 1.05, (y + 34) / 0.68)),
    "shares-corner": ('unit = "0-1"\norigin = "bottom-left"', lambda x, y: ((x + 52.5) / 105, (y + 34) / 68)),
    "units-120-80": (
        'unit = "pitch units"\norigin = "top-left"\nlength = 120\nwidth = 80',
        lambda x, y: ((x + 52.5) * 120 / 105, (34 - y) * 80 / 68),
    ),
}  # fmt: skip

_BASE = {1: 0, 2: 45 * 60}


def _mmss(seconds: float) -> str:
    minute = int(seconds // 60)
    return f"{minute:02d}:{seconds - 60 * minute:05.2f}"


def _iso(period: int, time_s: float) -> str:
    whole = round(time_s * 1000)
    hour = 15 if period == 1 else 16
    return f"2026-05-03T{hour:02d}:{whole // 60000:02d}:{whole // 1000 % 60:02d}.{whole % 1000:03d}+00:00"


# name -> (TOML of [clock], columns of the mapping, cells of one row)
CLOCKS: dict[str, tuple[str, dict[str, str], Callable[[int, float], dict[str, str]]]] = {
    "seconds": ('form = "seconds"', {"time": "Clock"}, lambda p, t: {"Clock": f"{t:.3f}"}),
    "match-seconds": ('form = "seconds"\nfrom = "match"', {"time": "Clock"}, lambda p, t: {"Clock": f"{t + _BASE[p]:.3f}"}),
    "milliseconds": ('form = "milliseconds"', {"time": "Clock"}, lambda p, t: {"Clock": f"{t * 1000:.0f}"}),
    "mmss": ('form = "mm:ss"', {"time": "Clock"}, lambda p, t: {"Clock": _mmss(t)}),
    "match-mmss": ('form = "mm:ss"\nfrom = "match"', {"time": "Clock"}, lambda p, t: {"Clock": _mmss(t + _BASE[p])}),
    "two-columns": (
        'form = "minute and second"\nfrom = "match"',
        {"minute": "Minute", "second": "Second"},
        lambda p, t: {"Minute": str(int(t + _BASE[p]) // 60), "Second": f"{(t + _BASE[p]) % 60:.3f}"},
    ),
    "timestamp": ('form = "timestamp"', {"time": "Clock"}, lambda p, t: {"Clock": _iso(p, t)}),
}  # fmt: skip

KIND_WORDS = {"pass": "Pass", "shot": "Attempt on goal", "tackle": "Tackle", "substitution": "Change", "foul": "Foul"}
OUTCOME_WORDS = {
    "complete": "successful", "intercepted": "cut out", "goal": "GOAL", "saved": "stopped", "off-target": "wide", "won": "won",
    "": "",
}  # fmt: skip


def small_match() -> Match:
    """Two sides of eleven and a substitute, two halves of 46 and 47 minutes, 60 events; invented data."""
    teams = []
    for side, name in (("N", "North"), ("S", "South")):
        players = tuple(
            Player(f"{side}{i}", f"{name} {i}", side, i, "GK" if i == 1 else "", i <= 11) for i in range(1, 13)
        )
        teams.append(Team(side, name, players=players))
    random = np.random.default_rng(7)
    rows: list[dict[str, object]] = []
    for period, home_sign in ((1, -1), (2, 1)):
        for k in range(30):
            side = k % 2
            sign = home_sign if side == 0 else -home_sign
            time_s = round(60 + 80 * k + float(random.uniform(0, 40)), 2)
            row: dict[str, object] = {
                "period": period,
                "time_s": time_s,
                "team": "NS"[side],
                "player": f"{'NS'[side]}{2 + k % 9}",
            }
            if k % 5 == 4 or k in (11, 16, 17):
                x, y = sign * float(random.uniform(30, 51)), float(random.uniform(-20, 20))
                outcome = ("goal", "saved", "off-target")[k % 3]
                row.update(kind="shot", outcome=outcome, success=outcome == "goal")
            else:
                x, y = float(random.uniform(-52, 52)), float(random.uniform(-34, 34))
                good = k % 3 > 0
                row.update(kind="pass", outcome="complete" if good else "intercepted", success=good)
                row.update(receiver=f"{'NS'[side] if good else 'SN'[side]}{11 - k % 9}", end_s=round(time_s + 1.5, 2))
                row.update(
                    end_x=round(float(random.uniform(-52, 52)), 3), end_y=round(float(random.uniform(-34, 34)), 3)
                )
            row.update(x=round(x, 3), y=round(y, 3))
            rows.append(row)
    rows.append({"period": 2, "time_s": 2500.0, "kind": "substitution", "team": "N", "player": "N7", "receiver": "N12"})
    periods = (Period(1, 46 * 60.0, -1), Period(2, 47 * 60.0, 1))
    return Match(
        "small", *teams, periods, events=events_table(rows), label="invented demonstration data", invented=True
    )


def write_messy(
    match: Match,
    folder: Path,
    place: str,
    clock: str,
    frame: str = "pitch",
    delimiter: str = ",",
    decimal: str = ".",
    encoding: str = "utf-8",
) -> Path:
    """Write the events as a messy CSV and the mapping that reads it; return the mapping's path."""  # fmt: skip
    coordinates, to_file = PLACES[place]
    clock_toml, clock_columns, clock_cells = CLOCKS[clock]
    assert match.events is not None
    rows = []
    for e in match.events.itertuples():
        sign = 1 if frame == "pitch" else match.attack_sign(e.team if frame == "attacking" else "N", e.period)
        row = {"Half": {1: "1st", 2: "2nd"}[e.period], **clock_cells(e.period, e.time_s)}
        row.update(
            {"Type of event": KIND_WORDS[e.kind], "Side": match.team(e.team).name, "By": e.player, "To": e.receiver}
        )
        row["Result"] = OUTCOME_WORDS[e.outcome]
        row["Lasts"] = "" if np.isnan(e.end_s) else f"{e.end_s - e.time_s:.3f}"
        for names, (x, y) in ((("X pos", "Y pos"), (e.x, e.y)), (("X to", "Y to"), (e.end_x, e.end_y))):
            raw = ("", "") if np.isnan(x) else tuple(f"{v:.5f}" for v in to_file(x * sign, y * sign))
            row.update(zip(names, raw))
        rows.append(row)
    numeric = {"Clock", "Second", "Lasts", "X pos", "Y pos", "X to", "Y to"}
    if clock in ("timestamp",):
        numeric.discard("Clock")
    for row in rows:
        row.update({k: v.replace(".", decimal) for k, v in row.items() if k in numeric})
    with (folder / "log.csv").open("w", encoding=encoding, newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), delimiter=delimiter)
        writer.writeheader()
        writer.writerows(rows)
    columns = {
        "period": "Half", **clock_columns, "kind": "Type of event", "team": "Side", "player": "By", "receiver": "To",
        "outcome": "Result", "duration": "Lasts", "x": "X pos", "y": "Y pos", "end_x": "X to", "end_y": "Y to",
    }  # fmt: skip
    extra = f'encoding = "{encoding}"\n' if encoding == "cp1252" else ""
    toml = f"""mapping = 1
[match]
id = "small"
home = {{ id = "N", name = "North" }}
away = {{ id = "S", name = "South" }}
[[period]]
number = 1
duration = "46:00"
home_attacks = "left"
start = 2026-05-03T15:00:00Z
[[period]]
number = 2
duration = "47:00"
home_attacks = "right"
start = 2026-05-03T16:00:00Z
[coordinates]
{coordinates}
frame = "{frame}"
[clock]
{clock_toml}
{squad_toml(match)}
[words.period]
1 = ["1st"]
2 = ["2nd"]
[words.kind]
shot = ["Attempt on goal"]
substitution = ["Change"]
[words.outcome]
complete = ["successful"]
intercepted = ["cut out"]
saved = ["stopped"]
off-target = ["wide"]
[[events]]
file = "log.csv"
decimal = "{decimal}"
{extra}[events.columns]
""" + "".join(f'{k} = "{v}"\n' for k, v in columns.items())
    path = folder / "mapping.toml"
    path.write_text(toml, encoding="utf-8")
    return path


def squad_toml(match: Match) -> str:
    """The [squad] of a match, inline."""
    lines = ["[squad]"]
    for word, team in zip(("home", "away"), match.teams):
        lines.append(f"{word} = [")
        for p in team.players:
            lines.append(
                f'  {{ id = "{p.player_id}", name = "{p.name}", shirt = {p.shirt}, position = "{p.position}", '
                f"starter = {str(p.starter).lower()} }},"
            )
        lines.append("]")
    return "\n".join(lines)
