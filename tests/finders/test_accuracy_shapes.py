"""Shapes against what each side was told, over the simulated matches of `test_accuracy.py`.

The truth is the coach's order by minute (`told_shapes.py`), never where the players stood.  A row of the table is one
told shape: how often the name read from the places is the told one (names of blocks alone say all lines), how often
the back line has the told number, how often the lines are those that the told places themselves have.  Below: changes
found within `SLACK_MIN` of a told change, in each phase by itself, and whether a change was seen in any phase.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, field

import numpy as np
import pytest
import scoring
import told_shapes

from tactical_kit.finders.shapes import find_shapes
from tactical_kit.measures.formation import line_sizes, shape_name

SLACK_MIN = 3.0
# Metres from the last to the first line and to either side, to draw the told places: as the plans of the story say.
LENGTH_M = {"block": 26.0, "build": 44.0, "attack": 42.0}
WIDTH_M = {"block": 20.0, "build": 31.0, "attack": 31.0}


@dataclass
class Tally:
    """Rows of one told shape."""

    rows: int = 0
    back: int = 0
    told: int = 0
    drawn: int = 0
    names: Counter = field(default_factory=Counter)


def drawn_name(name: str) -> str:
    """What the rule reads from the told places."""
    kind = name.split()[-1]
    depth_side = told_shapes.places(name)
    return shape_name(line_sizes((depth_side * (LENGTH_M[kind], WIDTH_M[kind]))[None])[0])


def judge_rows(table, tallies: dict[str, Tally]) -> None:
    """Add the rows of one match that have a told shape: the one in force for most of the spell."""
    for row in table[table["phase"].isin(told_shapes.TOLD_IN)].itertuples():
        shares = told_shapes.told(row.team, row.phase, row.period, row.start_s, row.end_s)
        name = max(shares, key=shares.__getitem__)
        tally = tallies[name]
        tally.rows += 1
        tally.back += int(row.shape.split("-")[0]) == told_shapes.BACK_LINE[name]
        tally.told += row.shape == name.removesuffix(" block").removesuffix(" attack")
        tally.drawn += row.shape == drawn_name(name)
        tally.names[row.shape] += 1


def judge_changes(table, count: scoring.Count, seen: Counter) -> None:
    """Add the changes of one match; `seen` counts told changes (seen, of all) by side and with or without the ball."""
    hits = misses = false = 0
    caught = defaultdict(bool)
    for (team, side, phase), rows in table[table["phase"].isin(told_shapes.TOLD_IN)].groupby(["team", "side", "phase"]):
        rows = rows.sort_values(["period", "start_s"])
        start = [told_shapes.minute_of(p, t) for p, t in zip(rows["period"], rows["start_s"])]
        end = [told_shapes.minute_of(p, t) for p, t in zip(rows["period"], rows["end_s"])]
        found = [(end[i - 1] - SLACK_MIN, start[i] + SLACK_MIN) for i in np.flatnonzero(rows["changed"])]
        for minute in told_shapes.changes(team, phase):
            fits = next((f for f in found if f[0] <= minute <= f[1]), None)
            caught[team, side, minute] |= fits is not None
            hits, misses = hits + (fits is not None), misses + (fits is None)
            if fits is not None:
                found.remove(fits)
        false += len(found)
    count.add(hits, misses, false)
    seen["told"] += len(caught)
    seen["seen"] += sum(caught.values())


def report(tallies: dict[str, Tally], count: scoring.Count, seen: Counter) -> str:
    """The tables as Markdown."""
    lines = [
        "| told shape | rows | back line right | name as told | lines as the told places | read most often |",
        "|---|---|---|---|---|---|",
    ]
    for name, t in sorted(tallies.items()):
        most = ", ".join(f"{shape} ({n})" for shape, n in t.names.most_common(3))
        named = "-" if name.endswith("build") else f"{t.told / t.rows:.3f}"
        lines.append(f"| {name} | {t.rows} | {t.back / t.rows:.3f} | {named} | {t.drawn / t.rows:.3f} | {most} |")
    rows, back = (sum(getattr(t, c) for t in tallies.values()) for c in ("rows", "back"))
    lines += [
        f"| all | {rows} | {back / rows:.3f} | | | |",
        "",
        "| changes of shape | told | found | hits | precision | recall |",
        "|---|---|---|---|---|---|",
        f"| in each phase by itself | {count.hits + count.misses} | {count.hits + count.false} | {count.hits} | "
        f"{count.precision:.3f} | {count.recall:.3f} |",
        f"| seen in at least one phase | {seen['told']} | | {seen['seen']} | | {seen['seen'] / seen['told']:.3f} |",
    ]
    return "\n".join(lines)


# -- the judge itself -------------------------------------------------------------------------------------------


def test_orders_of_the_story():
    """By hand from the story: the home side changes at 60, the visitors at 55 and back at 78."""
    assert told_shapes.changes("BRL", "mid-block") == [60] and told_shapes.changes("OST", "build-up") == [55, 78]
    assert told_shapes.told("BRL", "mid-block", 1, 0.0, 2700.0) == {"4-4-2 block": 1.0}
    # Period 2 from 50:00 to 70:00: half of it before the 60th minute.
    assert told_shapes.told("BRL", "mid-block", 2, 300.0, 1500.0) == {
        "4-4-2 block": pytest.approx(0.5),
        "4-1-4-1 block": pytest.approx(0.5),
    }
    assert told_shapes.told("OST", "final third", 1, 2760.0, 2800.0) == {"2-4-4 attack": pytest.approx(1.0)}
    assert told_shapes.minute_of(1, 2800.0) == 45.0 and told_shapes.minute_of(2, 900.0) == 60.0


def test_what_the_told_places_read():
    """By hand: depths x 26 m in a block.  The 4-2-3-1 has its pivots 5.2 m behind the wide men, who are far outside
    of them, and its ten 3.6 m behind the striker: 4-4-2 by depth."""
    assert drawn_name("4-4-2 block") == "4-4-2" and drawn_name("4-1-4-1 block") == "4-1-4-1"
    assert drawn_name("5-4-1 block") == "5-4-1" and drawn_name("4-2-3-1 block") == "4-4-2"


@pytest.mark.accuracy
@pytest.mark.timeout(3600)
def test_shapes_over_twenty_simulated_matches(capsys):
    tallies, count, seen = defaultdict(Tally), scoring.Count(), Counter()
    for seed in range(2001, 2021):
        table = find_shapes(scoring.simulate(seed).match).table
        judge_rows(table, tallies)
        judge_changes(table, count, seen)
    with capsys.disabled():
        print("\n" + report(tallies, count, seen))
    assert len(count.each) == 20
