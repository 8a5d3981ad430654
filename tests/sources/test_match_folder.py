"""The native match folder: round trips, atomic writing, and what is said of damaged folders.

Parquet files are also read with pandas and pyarrow alone, as an outside check of what lies on disk.
"""

import importlib.util
import json
import os
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tactical_kit.errors import TacticalKitError
from tactical_kit.match import Match, Period, Player, Team
from tactical_kit.sources import (
    InputError,
    Problems,
    atomic,
    check_match_folder,
    match_folder,
    read_match_folder,
    write_match_folder,
)

_spec = importlib.util.spec_from_file_location("small_match", Path(__file__).with_name("small_match.py"))
small = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(small)

FILES = ("match.json", "events.parquet", "tracking.parquet")


def contents(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


# -- round trips ------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    seed=st.integers(0, 10_000),
    numbers=st.sampled_from([(1,), (1, 2), (2,), (1, 2, 3, 4), (1, 2, 3, 4, 5), (1, 2, 5)]),
    directions=st.tuples(*[st.sampled_from([1, -1])] * 5),
    rate=st.sampled_from([5.0, 12.5, 25.0]),
    start=st.sampled_from([None, datetime(2026, 3, 1, 18, 30, 0, 123_456, UTC)]),
    flags=st.tuples(*[st.booleans()] * 5),
)
def test_any_small_match_round_trips(tmp_path_factory, seed, numbers, directions, rate, start, flags):
    sent_off, unseen, owner, with_events, with_tracking = flags
    match = small.small_match(
        seed, numbers, directions, rate, 20.0, start, sent_off, unseen, owner, with_events, with_tracking
    )
    folder = tmp_path_factory.mktemp("m") / "match"
    assert write_match_folder(match, folder) == folder
    back = read_match_folder(folder)
    small.assert_same(match, back)
    assert read_match_folder(folder / "match.json").match_id == "m-1"
    again = folder.with_name("again")
    write_match_folder(back, again)
    assert contents(again) == contents(folder)


def test_positions_are_kept_to_the_centimetre(tmp_path):
    match = small.small_match()
    xy = match.tracking.xy
    xy += np.float32(0.0042)
    write_match_folder(match, tmp_path / "m")
    back = read_match_folder(tmp_path / "m").tracking.xy
    assert back.dtype == np.float32
    np.testing.assert_array_equal(np.isnan(back), np.isnan(xy))
    assert np.nanmax(np.abs(back - xy)) <= 0.00501
    # What lies on disk, read by pandas alone: whole centimetres, -32768 for a missing place.
    disk = pd.read_parquet(tmp_path / "m" / "tracking.parquet")
    assert disk.dtypes["p04_x"] == np.int16
    np.testing.assert_array_equal(disk["p00_x"], np.rint(xy[:, 0, 0].astype(float) * 100))
    assert (disk["p04_x"][3:9] == -32768).all()


def test_tracking_is_delta_coded(tmp_path):
    write_match_folder(small.small_match(), tmp_path / "m")
    group = pq.ParquetFile(tmp_path / "m" / "tracking.parquet").metadata.row_group(0)
    columns = [group.column(i) for i in range(group.num_columns)]
    assert {c.compression for c in columns} == {"ZSTD"}
    assert {c.encodings for c in columns if c.path_in_schema != "alive"} == {("RLE", "DELTA_BINARY_PACKED")} or {
        "DELTA_BINARY_PACKED" in c.encodings for c in columns if c.path_in_schema != "alive"
    } == {True}


def test_extra_columns_and_tags_are_kept(tmp_path):
    match = small.small_match()
    events = match.events.assign(mood=[None, "calm"] * (len(match.events) // 2) + ["x"] * (len(match.events) % 2))
    tags = pd.DataFrame({"period": [1], "time_s": [12.5], "note": ["=HYPERLINK(<b>)"], "count": [3]})
    write_match_folder(match.with_data(events=events, tags=tags), tmp_path / "m")
    back = read_match_folder(tmp_path / "m")
    assert back.events["mood"].tolist()[1] == "calm"
    assert back.tags.to_dict("records") == [{"period": 1, "time_s": 12.5, "note": "=HYPERLINK(<b>)", "count": 3}]


def test_a_column_that_parquet_cannot_hold_is_named(tmp_path):
    tags = pd.DataFrame({"note": pd.Series(["a", 1, object()], dtype=object)})
    with pytest.raises(TacticalKitError, match=r"^column 'note' cannot be written to tags\.parquet: "):
        write_match_folder(small.small_match().with_data(tags=tags), tmp_path / "m")
    assert list(tmp_path.iterdir()) == []


def test_names_are_data(tmp_path):
    name = '<img src=x onerror="alert(1)"> \u202e=1+1 "\\'
    home = Team("h/..%", name, "<i>", (Player("../p", name, "h/..%", None, "", True),))
    match = Match(name, home, small.squad("a", "Fern", "away"), (Period(1, 60, 1),), label=name)
    write_match_folder(match, tmp_path / "m")
    small.assert_same(match, read_match_folder(tmp_path / "m"))
    assert sorted(p.name for p in tmp_path.iterdir()) == ["m"]


def test_a_match_with_nothing_but_squads(tmp_path):
    match = small.small_match(with_events=False, with_tracking=False)
    write_match_folder(match, tmp_path / "m")
    assert read_match_folder(tmp_path / "m").level == "nothing yet"
    assert [p.name for p in (tmp_path / "m").iterdir()] == ["match.json"]


# -- writing ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fails", ["write_tracking", "_sha256", "_to_json"])
def test_a_write_that_dies_leaves_the_old_match(tmp_path, monkeypatch, fails):
    write_match_folder(small.small_match(seed=1), tmp_path / "m")
    before = contents(tmp_path / "m")

    def die(*args, **kwargs):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(match_folder, fails, die)
        with pytest.raises(KeyboardInterrupt):
            write_match_folder(small.small_match(seed=2), tmp_path / "m")
    assert contents(tmp_path / "m") == before
    assert [p.name for p in tmp_path.iterdir()] == ["m"]
    write_match_folder(small.small_match(seed=2), tmp_path / "m")
    assert contents(tmp_path / "m") != before
    assert [p.name for p in tmp_path.iterdir()] == ["m"]


def test_a_rename_that_fails_puts_the_old_match_back(tmp_path, monkeypatch):
    write_match_folder(small.small_match(seed=1), tmp_path / "m")
    before = contents(tmp_path / "m")
    rename = Path.rename

    def once(self, target):
        if self.name.endswith(".part"):
            raise OSError("disk full")
        return rename(self, target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "rename", once)
        with pytest.raises(OSError, match=r"^disk full$"):
            write_match_folder(small.small_match(seed=2), tmp_path / "m")
    assert contents(tmp_path / "m") == before
    assert [p.name for p in tmp_path.iterdir()] == ["m"]


def test_a_machine_that_stops_between_the_renames_loses_nothing(tmp_path):
    match = small.small_match(seed=1)
    write_match_folder(match, tmp_path / "m")
    before = contents(tmp_path / "m")
    (tmp_path / "m").rename(atomic.previous_of(tmp_path / "m"))  # the state after the first rename
    with pytest.raises(InputError) as error:
        read_match_folder(tmp_path / "m")
    assert str(error.value) == (
        "1 problem; nothing was loaded.\n"
        "m: met no such folder; expected a match folder. Writing was cut off; the match before it is whole: rename "
        ".m.previous to m."
    )
    with pytest.raises(TacticalKitError):  # the next write puts it back, even if it fails itself
        write_match_folder(_far(match), tmp_path / "m")
    assert contents(tmp_path / "m") == before


def _far(match: Match) -> Match:
    tracking = small.small_match(seed=1).tracking
    tracking.xy[7, 2] = 400.0, 3.0
    return match.with_data(tracking=tracking)


def test_a_coordinate_that_does_not_fit_is_refused(tmp_path):
    with pytest.raises(TacticalKitError) as error:
        write_match_folder(_far(small.small_match()), tmp_path / "m")
    assert str(error.value) == (
        "a coordinate of player 'h3' is 400 m; a match folder holds -327.67 to 327.67 m from the centre spot. Check "
        "the unit of the positions."
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("metres", "fits"), [(327.67, True), (-327.67, True), (327.68, False), (np.inf, False)])
def test_the_edge_of_what_fits(tmp_path, metres, fits):
    match = small.small_match()
    match.tracking.ball[0, 0] = metres
    if fits:
        write_match_folder(match, tmp_path / "m")
        assert read_match_folder(tmp_path / "m").tracking.ball[0, 0] == np.float32(metres)
    else:
        with pytest.raises(TacticalKitError, match=r"^a coordinate of the ball is (327\.68|inf) m; a match folder"):
            write_match_folder(match, tmp_path / "m")


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (lambda p: p.write_text("x"), "it is a file"),
        (lambda p: (p.mkdir(), (p / "notes.txt").write_text("x")), "it holds other files (notes.txt)"),
        (lambda p: (p.mkdir(), (p / "match.json").write_text('{"officials": []}')), "it is not a match folder"),
    ],
)
def test_other_peoples_things_are_not_overwritten(tmp_path, make, reason):
    make(tmp_path / "m")
    before = {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    with pytest.raises(TacticalKitError) as error:
        write_match_folder(small.small_match(), tmp_path / "m")
    assert str(error.value) == f"{tmp_path / 'm'} is not overwritten: {reason}. Name a new folder."
    assert {p: p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()} == before


def test_a_match_folder_with_notes_beside_it_is_not_replaced(tmp_path):
    write_match_folder(small.small_match(), tmp_path / "m")
    (tmp_path / "m" / "notes.txt").write_text("mine")
    with pytest.raises(TacticalKitError, match=r"is not overwritten: it holds other files \(notes\.txt\)\. Name a new"):
        write_match_folder(small.small_match(), tmp_path / "m")
    assert (tmp_path / "m" / "notes.txt").read_text() == "mine"


def test_an_empty_folder_is_filled_and_a_missing_parent_is_named(tmp_path):
    (tmp_path / "m").mkdir()
    write_match_folder(small.small_match(), tmp_path / "m")
    with pytest.raises(TacticalKitError) as error:
        write_match_folder(small.small_match(), tmp_path / "no" / "m")
    assert str(error.value) == (
        f"cannot write {tmp_path / 'no' / 'm'}: there is no folder {tmp_path / 'no'}. Make it first."
    )


# -- damaged folders --------------------------------------------------------------------------------------


def _index(change):
    def damage(folder: Path) -> None:
        value = json.loads((folder / "match.json").read_text("utf-8"))
        change(value)
        (folder / "match.json").write_text(json.dumps(value), "utf-8")

    return damage


def _cut(name, keep):
    return lambda folder: (folder / name).write_bytes((folder / name).read_bytes()[:keep])


def _zip(folder: Path) -> None:
    with zipfile.ZipFile(folder / "tracking.parquet", "w") as file:
        file.writestr("a", "b")


def _table(name, change):
    """Rewrite a table of the folder, its listed number of rows kept right."""

    def damage(folder: Path) -> None:
        made = change(pq.read_table(folder / name))
        pq.write_table(made, folder / name)
        _index(lambda v: v["files"][name].update(rows=made.num_rows))(folder)

    return damage


def _set(column, row, value):
    def change(table: pa.Table) -> pa.Table:
        values = table.column(column).to_pylist()
        values[row] = value
        where = table.schema.get_field_index(column)
        return table.set_column(where, column, pa.array(values, table.schema.field(column).type))

    return change


AGAIN = "Write the match again."
CASES = {
    "version from the future": (
        _index(lambda v: v.update(version=99)),
        ["match.json, column 'version': met 99; expected version 1. Update tactical_kit to read it."],
    ),
    "version 0": (
        _index(lambda v: v.update(version=0)),
        [f"match.json, column 'version': met 0; expected version 1. {AGAIN}"],
    ),
    "another form": (
        _index(lambda v: v.update(form="a recipe")),
        ["match.json, column 'form': met 'a recipe'; expected 'tactical_kit match folder'. This is another form of "
         "match; try read_match on the folder."],
    ),
    "no match.json": (
        lambda folder: os.remove(folder / "match.json"),
        ["match.json: met no such file; expected a file that can be read. Check the name and the rights."],
    ),
    "empty match.json": (
        lambda folder: (folder / "match.json").write_text(""),
        ["match.json: met an empty file; expected JSON. Export the file again."],
    ),
    "cut-off match.json": (
        _cut("match.json", 300),
        ["match.json, row 17: met '\"home_attack'; expected valid JSON (unterminated string). The file is cut off or "
 "damaged here: export it again."],
    ),
    "no tracking file": (
        lambda folder: os.remove(folder / "tracking.parquet"),
        ["tracking.parquet: met no such file; expected the file that match.json lists. Copy the whole folder, or write "
         "the match again."],
    ),
    "cut-off tracking": (
        _cut("tracking.parquet", 2000),
        ["tracking.parquet: met a Parquet file that is cut off; expected a Parquet file. Copy it again, or write the "
         "match again."],
    ),
    "empty events": (
        _cut("events.parquet", 0),
        ["events.parquet: met an empty file; expected a Parquet file. Copy it again, or write the match again."],
    ),
    "a zip named .parquet": (
        _zip,
        ["tracking.parquet: met a zip archive; expected a Parquet file. Copy it again, or write the match again."],
    ),
    "a picture named .parquet": (
        lambda folder: (folder / "events.parquet").write_bytes(b"\x89PNG1234567890"),
        ["events.parquet: met a file that begins with b'\\x89PNG'; expected a Parquet file. Copy it again, or write the "
         "match again."],
    ),
    "fewer rows than listed": (
        _index(lambda v: v["files"]["tracking.parquet"].update(rows=7)),
        ["tracking.parquet: met 400 rows; expected 7 rows as match.json says. Copy the whole folder again."],
    ),
    "0 frames": (
        _table("tracking.parquet", lambda t: t.slice(0, 0)),
        ["tracking.parquet: met 0 frames; expected at least one frame. Leave tracking out of the folder if there is "
         "none."],
    ),
    "a column less, a column more": (
        _table("tracking.parquet", lambda t: t.rename_columns(["when" if n == "time_us" else n for n in t.column_names])),
        [f"tracking.parquet, column 'time_us': met no such column; expected a column of type int64. {AGAIN}",
         f"tracking.parquet, column 'when': met an unknown column; expected the columns of the format alone. {AGAIN}"],
    ),
    "a column of another type": (
        _table("tracking.parquet", lambda t: t.set_column(4, "ball_x", t.column(4).cast(pa.float64()))),
        [f"tracking.parquet, column 'ball_x': met type double; expected type int16. {AGAIN}"],
    ),
    "frames back in time": (
        _table("tracking.parquet", _set("time_us", 3, 0)),
        ["tracking.parquet, row 4, column 'time_us': met period 1, 0 s; expected a time after the row above (period 1, "
         f"0.4 s). {AGAIN}"],
    ),
    "an empty cell": (
        _table("tracking.parquet", _set("p02_y", 3, None)),
        [f"tracking.parquet, column 'p02_y': met an empty cell; expected a value in every cell. {AGAIN}"],
    ),
    "an owner 7": (
        _table("tracking.parquet", _set("owner", 3, 7)),
        [f"tracking.parquet, column 'owner': met 7; expected -1, 0 or 1. {AGAIN}"],
    ),
    "events back in time": (
        _table("events.parquet", _set("time_s", 5, 0.25)),
        ["events.parquet, row 6, column 'time_s': met period 1, 0.25 s; expected no time before the row above (period "
         f"1, 2.4 s). {AGAIN}"],
    ),
    "an infinite place": (
        _table("events.parquet", _set("x", 5, float("inf"))),
        [f"events.parquet, row 6, column 'x': met inf; expected a finite number. {AGAIN}"],
    ),
    "an event id twice": (
        _table("events.parquet", _set("event_id", 5, "e001")),
        ["events.parquet, row 6, column 'event_id': met e001; expected each event_id once. Give the event an id of its "
         "own."],
    ),
    "an unknown player": (
        _table("events.parquet", _set("player", 5, "h99")),
        ["match.json: met events name players of neither squad: h99; expected squads, events and tracking that belong "
         f"together. {AGAIN}"],
    ),
    "a tracked player of neither squad": (
        _index(lambda v: v["tracking"]["players"].__setitem__(0, "h99")),
        ["match.json, column 'tracking.players': met 'h99'; expected ids of the two squads. Add the player to his "
         "squad."],
    ),
    "words for numbers": (
        _index(lambda v: (v["pitch"].update(length_m="long"), v["periods"][0].update(home_attacks=0),
                          v["home"]["players"][2].update(shirt=-4))),
        ["match.json, column 'pitch.length_m': met 'long'; expected a number. Correct the value in the file.",
         "match.json, column 'periods[0].home_attacks': met 0; expected 1 or -1. Correct the value in the file.",
         "match.json, column 'home.players[2].shirt': met -4; expected a whole number from 0 to 999. Correct the value "
         "in the file."],
    ),
    "a pitch of 30 m": (
        _index(lambda v: v["pitch"].update(length_m=30)),
        ["match.json, column 'pitch': met 30 x 67 m; expected a pitch that Law 1 allows. Law 1 does not allow this "
         "pitch: length 30 m, expected 90-120 m; length 30 m, expected more than the width 67 m. Sizes are in metres: "
         "1 yd = 0.9144 m."],
    ),
    "two files damaged": (
        lambda folder: (_cut("events.parquet", 0)(folder), _zip(folder)),
        ["events.parquet: met an empty file; expected a Parquet file. Copy it again, or write the match again.",
         "tracking.parquet: met a zip archive; expected a Parquet file. Copy it again, or write the match again."],
    ),
    "a path that leads out": (
        _index(lambda v: v["files"].update({"../../secret.parquet": {"rows": 1, "sha256": ""}})),
        ["match.json, column 'files.../../secret.parquet': met '../../secret.parquet'; expected one of events.parquet, "
         "tracking.parquet, tags.parquet. Remove the entry."],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_damaged_folders_are_refused_with_every_reason(tmp_path, case):
    damage, lines = CASES[case]
    write_match_folder(small.small_match(), tmp_path / "m")
    damage(tmp_path / "m")
    before = contents(tmp_path / "m")
    with pytest.raises(InputError) as error:
        read_match_folder(tmp_path / "m")
    head = "1 problem" if len(lines) == 1 else f"{len(lines)} problems"
    assert str(error.value) == "\n".join([f"{head}; nothing was loaded.", *lines])
    assert check_match_folder(tmp_path / "m", Problems()) is None
    assert contents(tmp_path / "m") == before


def test_a_changed_byte_is_found_by_the_check_alone(tmp_path):
    write_match_folder(small.small_match(), tmp_path / "m")
    _table("events.parquet", _set("x", 1, 3.25))(tmp_path / "m")
    assert read_match_folder(tmp_path / "m").events["x"].iloc[1] == 3.25  # quick reading does not add up sums
    problems = Problems()
    check_match_folder(tmp_path / "m", problems)
    (line,) = problems.lines()
    assert line.startswith("events.parquet: met SHA-256 ")
    assert line.endswith("The file was changed after it was written; copy the folder again or write the match again.")


def test_the_check_finds_twelve_players(tmp_path):
    match = small.small_match()
    match.tracking.xy[20:40, 11] = 1.0
    write_match_folder(match, tmp_path / "m")
    problems = Problems()
    assert check_match_folder(tmp_path / "m", problems) is None
    assert any("12 players of the home side at once" in line for line in problems.lines())


def test_a_whole_folder_passes_the_check(tmp_path):
    match = small.small_match()
    write_match_folder(match, tmp_path / "m")
    problems = Problems()
    small.assert_same(match, check_match_folder(tmp_path / "m", problems))
    assert problems.errors == []


def test_stills_are_left_out_with_a_warning(tmp_path):
    match = small.small_match()
    alone = match.with_data(stills=(match.snapshot(1, 5.0), match.snapshot(1, 6.0)))
    words = r"A match folder holds no stills; 2 of .* were left out of .*kept\. Keep them where they come from\."
    with pytest.warns(UserWarning, match=f"^{words}$"):
        write_match_folder(alone, tmp_path / "kept")
    assert read_match_folder(tmp_path / "kept").stills == ()
