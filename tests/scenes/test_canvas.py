"""The canvas shows exactly the data of the scene, and touches only what changed."""

import html
import re

import numpy as np
import pytest

from tactical_kit.errors import TacticalKitError
from tactical_kit.pitch import Pitch
from tactical_kit.scenes import Arrow, Ball, Disc, Label, Lane, Line, Scene, Shadow, Zone, style
from tactical_kit.scenes.canvas import Canvas
from tactical_kit.scenes.layers import DRAW_ORDER, KINDS, arrow_head, arrow_shaft, lay_out

PITCH = Pitch()
SCENE = Scene(
    "t",
    marks=(
        Disc(1, 2, label="4", team=0, key="p4", hover="Four", value=9.0),
        Disc(-5, 2, label="8", team=1, key="p8", layer="ghost"),
        Ball(3, 4, 1.5),
        Arrow(0, 0, 10, 4, width=2.0, team=1, value=7.0, key="p4>p5"),
        Lane(0, 0, 10, 0, 2.0, team=0),
        Zone.rect(-10, -5, 10, 5, value=0.25, shade=0.5, label="25 %", note="9 s", key="middle", few=True),
        Shadow(((0, 0), (6, 0), (0, 3))),
        Line(((0, -10), (0, 10)), style="dashed"),
        Label(5, 6, "words"),
    ),
)


def test_sources_hold_the_numbers_of_the_table():
    canvas, table = SCENE.canvas(), SCENE.table()
    for kind, layer in (("disc", "discs"), ("ball", "balls")):
        for depth in ("main", "ghost"):
            rows = table[(table["kind"] == kind) & (table["layer"] == depth)]
            data = canvas.sources[f"{depth}.{layer}"].data
            assert data["x"] == rows["x"].tolist() and data["y"] == rows["y"].tolist()
            assert data["key"] == rows["key"].tolist() and data["hover"] == rows["hover"].tolist()
    zone, arrow = (table[table["kind"] == k].iloc[0] for k in ("zone", "arrow"))
    data = canvas.sources["main.zones"].data
    assert list(zip(data["xs"][0], data["ys"][0])) == list(zone["points"])
    assert (data["value"], data["key"]) == ([0.25], ["middle"])
    assert len(data["hatch_xs"][0]) > 3  # it is hatched
    data = canvas.sources["main.arrows"].data
    assert (data["xs"][0][0], data["ys"][0][0]) == (arrow["x"], arrow["y"])
    assert (data["value"], data["width"], data["key"]) == ([7.0], [2.0], ["p4>p5"])
    tip = canvas.sources["main.heads"].data
    assert (tip["xs"][0][0], tip["ys"][0][0]) == pytest.approx((arrow["x1"], arrow["y1"]))
    assert canvas.sources["main.lines"].data["xs"] == [[0, 0]]
    assert canvas.sources["main.texts"].data["text"] == ["25 %", "9 s", "words"]


def test_every_layer_has_a_named_source_and_equal_columns():
    canvas = Canvas(PITCH, name="left")
    assert set(canvas.sources) == {*(layer for layer in DRAW_ORDER if "." in layer), "area"}
    for layer, source in canvas.sources.items():
        assert source.name == f"left.{layer}"
        assert len({len(v) for v in source.data.values()}) == 1
        if layer != "area":
            assert set(KINDS[layer.partition(".")[2]]) <= set(source.data)


def test_only_changed_layers_are_touched():
    canvas = SCENE.canvas()
    before = {layer: source.data for layer, source in canvas.sources.items()}
    assert canvas.show(SCENE) == ()
    moved = SCENE.replace(marks=(Disc(2, 2, label="4", team=0, key="p4"), *SCENE.marks[1:]))
    touched = []
    for layer, source in canvas.sources.items():
        source.on_change("data", lambda attr, old, new, layer=layer: touched.append(layer))
    assert canvas.show(moved) == ("main.discs",)
    assert touched == ["main.discs"]
    assert canvas.sources["main.discs"].data["x"] == [2]
    assert all(canvas.sources[layer].data is before[layer] for layer in before if layer != "main.discs")
    assert canvas.scene == moved


def test_models_stay_the_same():
    canvas = SCENE.canvas()
    ids = sorted(m.id for m in canvas.layout.references())
    canvas.show(Scene("other", marks=(Label(0, 0, "x"),)))
    assert sorted(m.id for m in canvas.layout.references()) == ids


def test_nan_values_do_not_count_as_change():
    canvas = Scene("t", marks=(Disc(1, 1, value=float("nan")),)).canvas()
    assert canvas.show(Scene("t", marks=(Disc(1, 1, value=np.nan),))) == ()
    assert canvas.show(Scene("t", marks=(Disc(1, 1, value=float(np.float32("nan"))),))) == ()


def test_another_pitch_is_refused():
    message = (
        "the scene has a pitch Pitch(length_m=100, width_m=64, international=False), the canvas "
        "Pitch(length_m=105.0, width_m=68.0, international=False); make another canvas."
    )
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        Canvas(PITCH).show(Scene("t", pitch=Pitch(100, 64)))


@pytest.mark.parametrize("size", [(105, 68), (90, 45), (120, 90)])
def test_proportions_of_any_pitch(size):
    canvas = Canvas(Pitch(*size), width_px=400)
    x, y = canvas.figure.x_range, canvas.figure.y_range
    assert canvas.figure.aspect_ratio == pytest.approx((x.end - x.start) / (y.end - y.start))
    assert canvas.figure.sizing_mode == "scale_width"
    assert x.end > size[0] / 2 + 2 and y.end > size[1] / 2


def test_pick_hands_back_kind_and_key():
    canvas, picked = SCENE.canvas(), []
    canvas.on_pick(lambda kind, key: picked.append((kind, key)))
    source = canvas.sources["main.discs"]
    source.selected.indices = [0]
    assert picked == [("discs", "p4")] and source.selected.indices == []
    source.selected.indices = [0]  # the same one again
    canvas.sources["main.zones"].selected.indices = [0]
    canvas.sources["main.lines"].selected.indices = [0]  # has no key
    canvas.sources["main.zones"].selected.indices = [7]  # a tap that arrives after the data changed
    assert picked == [("discs", "p4"), ("discs", "p4"), ("zones", "middle")]


def test_area_is_told_and_cleared():
    canvas, areas = Canvas(PITCH), []
    canvas.on_area(areas.append)
    assert canvas.area is None
    canvas.set_area((-10, -5, 20, 5))
    assert canvas.area == (-10, -5, 20, 5)
    canvas.set_area((-10, -5, 20, 5))  # nothing new
    canvas.set_area(None)
    assert areas == [(-10, -5, 20, 5), None]


def test_names_are_data_in_every_text(odd_name):
    scene = Scene(odd_name, odd_name, attacking=odd_name, caption=odd_name, source=odd_name, message=odd_name,
                  marks=(Disc(0, 0, name=odd_name, label=odd_name, hover=odd_name),))  # fmt: skip
    canvas = scene.canvas()
    for div, times in ((canvas.header, 3), (canvas.footer, 2)):
        assert div.text.count(html.escape(odd_name)) == times and odd_name not in div.text
        assert div.disable_math
    # Text glyphs and hover values are plain text for Bokeh; `{safe}` would make them HTML.
    assert canvas.sources["main.names"].data["text"] == [odd_name]
    assert canvas.sources["main.discs"].data["hover"] == [odd_name]
    hover = next(t for t in canvas.figure.tools if type(t).__name__ == "HoverTool")
    assert "@hover" in hover.tooltips and "safe" not in hover.tooltips


def test_message_stands_across_an_empty_pitch():
    canvas = Scene("t", message="No passes left to draw.\n" + "far too long for one line " * 4).canvas(width_px=400)
    lines = canvas.sources["main.texts"].data["text"]
    # A bold letter is about 0.68 of its size wide: measured on "DejaVu Sans Bold", lower case.
    assert lines[0] == "No passes left to draw." and len(lines) > 2
    assert max(map(len, lines)) * 0.68 * 13 * canvas.text_scale <= 105 * canvas.px_per_m
    assert canvas.show(Scene("t")) == ("main.texts",)
    assert canvas.sources["main.texts"].data["text"] == []


def test_covered_numbers_do_not_shine_through():
    canvas = Scene("t", marks=(Disc(0, 0, label="1"), Disc(1, 0, label="2"), Disc(9, 0, label="3"))).canvas()
    data = canvas.sources["main.discs"].data
    assert data["label"] == ["1", "2", "3"] and data["number"] == ["", "2", "3"]


def test_sides_differ_in_shape_and_ghosts_are_hollow():
    tables = lay_out(SCENE)
    assert tables["main.discs"]["marker"] == [style.TEAM_MARKER[0]]
    assert tables["ghost.discs"]["marker"] == [style.TEAM_MARKER[1]]
    assert tables["main.discs"]["fill_alpha"] == [1.0] and tables["ghost.discs"]["fill_alpha"] == [0.0]


def test_arrow_head_by_hand():
    # 3-4-5 triangle: length 5, unit (0.6, 0.8), across (-0.8, 0.6); a head of 1 m is 0.84 m wide.
    head = arrow_head(0, 0, 3, 4, 1.0, 1.0)
    assert head == pytest.approx(np.array([[3, 4], [2.4 - 0.336, 3.2 + 0.252], [2.4 + 0.336, 3.2 - 0.252]]))
    assert arrow_head(0, 0, 3, 4, 0.6, 1.0)[0] == pytest.approx([1.8, 2.4])
    assert arrow_head(1, 1, 1, 1, 1.0, 1.0).tolist() == [[1, 1]] * 3


def test_dribble_is_wavy_and_the_others_straight():
    assert len(arrow_shaft(0, 0, 20, 0, "pass", 1.5)) == len(arrow_shaft(0, 0, 20, 0, "run", 1.5)) == 2
    wave = arrow_shaft(0, 0, 20, 0, "dribble", 1.5)
    assert np.abs(wave[:, 1]).max() == pytest.approx(0.6, rel=0.06)
    assert wave[0].tolist() == [0, 0] and wave[-1].tolist() == [20, 0]
    dashes = lay_out(Scene("t", marks=(Arrow(0, 0, 9, 0), Arrow(0, 0, 9, 0, style="run"))))["main.arrows"]["dash"]
    assert dashes == ["solid", "dashed"]


def test_ball_leaves_the_number_free_and_keeps_its_place_in_the_scene():
    scene = Scene("t", marks=(Disc(10, 0, label="8", radius_m=2.0), Ball(11, 0), Ball(10, 0), Ball(10, 2)))
    balls = lay_out(scene)["main.balls"]
    # At 1 m it moves out to 1.15 radii the same way; on the very middle to the lower right; on the rim it stays.
    assert (balls["x"][0], balls["y"][0]) == pytest.approx((12.3, 0))
    assert np.hypot(balls["x"][1] - 10, balls["y"][1]) == pytest.approx(2.3, abs=1e-3)
    assert (balls["x"][2], balls["y"][2]) == (10, 2)
    assert [(b.x, b.y) for b in scene.of(Ball)] == [(11, 0), (10, 0), (10, 2)]


def test_canvas_alone_in_a_cell_is_a_page_of_its_own(odd_name):
    shown = Scene(odd_name, marks=(Disc(0, 0),)).canvas()._repr_html_()
    assert shown.startswith('<iframe title="&lt;b&gt;$x$&amp;&quot;&#x27;.') and shown.count("<") == 2
    page = html.unescape(shown.split('srcdoc="')[1].split('"></iframe>')[0])
    assert page.lstrip().startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")


def test_lane_is_a_strip_of_its_width():
    xs, ys = (lay_out(SCENE)["main.areas"][c][0] for c in ("xs", "ys"))
    assert list(zip(xs, ys)) == [(0, 1), (10, 1), (10, -1), (0, -1)]
