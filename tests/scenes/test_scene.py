"""A Scene is data: immutable, comparable, with every number in its table."""

import dataclasses
import math

import pytest

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.pitch import Pitch
from tactical_kit.scenes import Arrow, Ball, Disc, KeyItem, Label, Lane, Line, Scene, Shadow, Zone
from tactical_kit.scenes.names import place_names

MARKS = (
    Disc(1, 2, label="4", team=0, key="p4", hover="Four", value=9.0),
    Ball(3, 4, 1.5),
    Arrow(0, 0, 3, 4, style="run", width=2.0, team=1, value=7.0, key="p4>p5"),
    Lane(0, 0, 10, 0, 2.0, team=0),
    Zone.rect(-10, -5, 10, 5, value=0.25, shade=0.5, label="25 %", note="9 s", key="middle"),
    Shadow(((0, 0), (6, 0), (0, 3))),
    Line(((0, -10), (0, 10)), layer="ghost"),
    Label(5, 6, "words"),
)


def test_table_holds_every_number():
    table = Scene("t", marks=MARKS).table()
    assert table["kind"].tolist() == ["disc", "ball", "arrow", "lane", "zone", "shadow", "line", "label"]
    assert table["x"].tolist() == [1, 3, 0, 0, 0, 2, 0, 5]
    assert table["y"].tolist() == [2, 4, 0, 0, 0, 1, 0, 6]
    assert table.loc[[2, 3], ["x1", "y1"]].to_numpy().tolist() == [[3, 4], [10, 0]]
    assert table["x1"].isna().sum() == 6
    assert table.loc[[0, 1, 2, 4], "value"].tolist() == [9.0, 1.5, 7.0, 0.25]
    assert table["team"].tolist() == [0, -1, 1, 0, -1, -1, -1, -1]
    assert table["layer"].tolist() == ["main"] * 6 + ["ghost", "main"]
    assert table["key"].tolist() == ["p4", "", "p4>p5", "", "middle", "", "", ""]
    assert table.loc[4, "points"] == ((-10, -5), (10, -5), (10, 5), (-10, 5))
    assert table.loc[[0, 4, 7], "label"].tolist() == ["4", "25 %", "words"]


def test_empty_table_has_the_same_columns_and_types():
    full, empty = Scene("t", marks=MARKS).table(), Scene("t").table()
    assert len(empty) == 0
    assert empty.dtypes.to_dict() == full.dtypes.to_dict()


def test_scene_is_immutable_and_comparable():
    scene = Scene("t", marks=list(MARKS))
    assert scene == Scene("t", marks=MARKS) and scene != Scene("t", marks=MARKS[1:])
    assert hash(scene.marks[0]) == hash(Disc(1, 2, label="4", team=0, key="p4", hover="Four", value=9.0))
    with pytest.raises(dataclasses.FrozenInstanceError, match=r"^cannot assign to field 'title'$"):
        scene.title = "other"
    with pytest.raises(dataclasses.FrozenInstanceError, match=r"^cannot assign to field 'x'$"):
        scene.marks[0].x = 5
    more = scene.adding(Label(0, 0, "more"))
    assert (len(scene.marks), len(more.marks)) == (8, 9)


@pytest.mark.parametrize(
    ("n", "expected"),
    [(None, ""), (0, "none: n = 0 passes"), (1, "few: n = 1 pass"), (9, "few: n = 9 passes"), (10, "n = 10 passes"),
     (12345, "n = 12 345 passes")],
)  # fmt: skip
def test_count_in_words_on_both_sides_of_few(n, expected):
    assert Scene("t", n=n, n_of="passes", few_below=10).count_words == expected


def test_alt_text_says_everything():
    scene = Scene(
        "Title", "A v B", MARKS[:3], n=3, n_of="passes", attacking="A attack →", caption="How.", source="invented"
    )
    assert scene.alt == ("Title. A v B. few: n = 3 passes · A attack →. Drawn: 1 disc, 1 ball, 1 arrow. How. invented.")


def test_marks_refuse_what_cannot_be_drawn():
    with pytest.raises(TacticalKitError, match=r"^Disc has x = nan; expected finite metres\.$"):
        Disc(math.nan, 0)
    with pytest.raises(
        TacticalKitError, match=r"^Line has points = \(\(0, 0\), \(inf, 1\)\); expected finite metres\.$"
    ):
        Line(((0, 0), (math.inf, 1)))
    with pytest.raises(TacticalKitError, match=r"^team of a mark is 2; expected 0 \(home\), 1 \(away\) or None\.$"):
        Disc(0, 0, team=2)
    with pytest.raises(
        UnknownNameError, match=r"^style is 'ran'; expected one of 'pass', 'run', 'dribble'\. Did you mean 'run'\?$"
    ):
        Arrow(0, 0, 1, 1, style="ran")
    with pytest.raises(TacticalKitError, match=r"^a Scene holds marks only; met str\.$"):
        Scene("t", marks=("disc",))
    with pytest.raises(UnknownNameError, match=r"^symbol is 'star'; expected one of 'home', .*'none'\.$"):
        KeyItem("star", "x")


def test_of_picks_kind_and_layer():
    scene = Scene("t", marks=MARKS)
    assert scene.of(Disc) == MARKS[:1] and scene.of(Line, "main") == () and scene.of(Line, "ghost") == MARKS[6:7]


def test_names_take_free_places_and_give_way():
    alone = place_names([Disc(0, 0, name="Ash")])
    assert (alone[0].name, alone[0].name_at) == ("Ash", "below")
    # Hemmed in on four sides there is no room; a name never covers a player.
    around = [Disc(0, -4), Disc(0, 4), Disc(5, 0), Disc(-5, 0)]
    assert place_names([Disc(0, 0, name="Ash"), *around])[0].name == ""
    # Where two want the same place the larger disc chooses first.
    small, large = place_names([Disc(5, 0, name="Ashwood"), Disc(0, 0, name="Elmwood", radius_m=3)])
    assert (large.name_at, small.name_at) == ("below", "right")


def test_import_of_scenes_loads_no_surface():
    import subprocess
    import sys

    code = (
        "import sys, tactical_kit.scenes, tactical_kit.scenes.charts, tactical_kit.scenes.show\n"
        "print([m for m in ('matplotlib', 'bokeh', 'panel', 'ipywidgets') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_repr_is_the_alt_text():
    assert repr(Scene("T", pitch=Pitch(100, 64))) == "<Scene T. Drawn: an empty pitch.>"
