"""Print: the same bytes each time, every word there, nothing cut off, the reader's settings left alone."""

import io
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imread

from tactical_kit.errors import TacticalKitError, UnknownNameError
from tactical_kit.pitch import Pitch
from tactical_kit.scenes import Arrow, Ball, Disc, KeyItem, Label, Scene, Zone
from tactical_kit.scenes.printing import draw, notebook_png, to_bytes
from tactical_kit.scenes.scene import KEY_SYMBOLS

LONG = "words that would never fit on a single line of the sheet " * 4


def make_scene(name="Alder", **changes):
    marks = (
        Disc(1, 2, label="4", name=name, team=0), Disc(20, 10, label="9", team=1, layer="ghost"), Ball(3, 4),
        Arrow(0, 0, 10, 4, style="dribble", team=1), Label(-20, 20, name),
        Zone.rect(-30, -20, -10, -5, shade=0.8, value=3, label="3 %", note="9 s", few=True),
    )  # fmt: skip
    facts = dict(n=7, n_of="passes", attacking="A attack →", source=f"data of {name}", caption=f"caption {name}")
    facts |= {"marks": marks, "subtitle": f"Sub {name}", "legend": [KeyItem("home", f"key {name}")]}
    return Scene(**({"title": f"Title {name}"} | facts | changes))


@pytest.mark.parametrize("form", ["png", "svg", "pdf"])
def test_same_bytes_in_one_process_and_in_another(form, tmp_path):
    first = to_bytes(make_scene(), form)
    assert to_bytes(make_scene(), form) == first
    code = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from test_printing import make_scene\n"
        "make_scene().save(sys.argv[2])"
    )
    target = tmp_path / f"p.{form}"
    here = str(Path(__file__).parent)
    subprocess.run(
        [sys.executable, "-c", code, here, str(target)], check=True, env={**os.environ, "PYTHONHASHSEED": "7"}
    )
    assert target.read_bytes() == first


@pytest.mark.parametrize("form", ["png", "svg", "pdf"])
def test_no_date_and_no_path_in_the_file(form):
    data = to_bytes(make_scene(), form)
    for part in (b"CreationDate", b"ModDate", b"dc:date", str(Path.cwd()).encode()):
        assert part not in data


def test_reader_settings_change_nothing_and_stay():
    plain = to_bytes(make_scene(), "svg")
    with matplotlib.rc_context(
        {"font.size": 30, "axes.facecolor": "red", "svg.fonttype": "path", "lines.linewidth": 9}
    ):
        assert to_bytes(make_scene(), "svg") == plain
        assert matplotlib.rcParams["font.size"] == 30 and matplotlib.rcParams["svg.fonttype"] == "path"


def test_pyplot_is_not_used():
    code = (
        "import sys\nfrom tactical_kit.scenes import Scene\n"
        "Scene('t')._repr_png_()\nprint('matplotlib.pyplot' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def svg_words(scene):
    root = ET.fromstring(to_bytes(scene, "svg"))
    return [t.text for t in root.iter("{http://www.w3.org/2000/svg}text") if t.text]


def test_svg_holds_every_word():
    words = svg_words(make_scene())
    for expected in ("Title Alder", "Sub Alder", "few: n = 7 passes · A attack →", "4", "Alder", "3 %", "9 s", "key Alder",
                     "caption Alder", "Data: data of Alder"):  # fmt: skip
        assert expected in words
    assert words.count("Alder") == 2  # beside the player, and the label


def test_names_are_data_not_mathtext_nor_markup(odd_name):
    words = svg_words(make_scene(odd_name))
    for expected in (f"Title {odd_name}", f"Sub {odd_name}", odd_name, f"key {odd_name}", f"caption {odd_name}"):
        assert expected in words
    for form in ("png", "pdf"):
        assert to_bytes(make_scene(odd_name), form)
    assert to_bytes(make_scene(r"$\frac{"), "png")  # broken mathtext


def test_title_and_description_travel_in_the_file():
    data = to_bytes(make_scene(), "png")
    assert b"Title\x00Title Alder" in data
    root = ET.fromstring(to_bytes(make_scene(), "svg"))
    assert "Title Alder" in "".join(root.itertext())


@pytest.mark.parametrize("size", [(105, 68), (90, 45), (120, 90), (90, 89)])
@pytest.mark.parametrize("sheet", [None, (4.0, 6.0), (10.0, 5.0)])
def test_no_word_is_cut_off(size, sheet):
    scene = make_scene(LONG, pitch=Pitch(*size), marks=())
    if sheet is not None:
        scene = scene.replace(subtitle="Sub", caption="c", source="s", legend=())
    figure = draw(scene, size=sheet)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    width, height = figure.get_size_inches() * figure.dpi
    boxes = [t.get_window_extent(canvas.get_renderer()) for t in figure.texts]
    assert len(boxes) > 3
    for box in boxes:
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
    # Nor does one word lie upon another, or on the field.
    field = figure.axes[0].get_window_extent(canvas.get_renderer())
    for i, box in enumerate(boxes):
        assert not box.shrunk(0.98, 0.8).overlaps(field)
        assert not any(box.shrunk(0.98, 0.6).overlaps(other) for other in boxes[i + 1 :])


def test_a_word_longer_than_the_line_is_broken():
    words = svg_words(Scene("x" * 300))
    assert "".join(w for w in words if set(w) == {"x"}) == "x" * 300 and len(words) > 1


def test_sheet_too_small_says_what_would_do():
    with pytest.raises(
        TacticalKitError,
        match=r"^a picture of 2 x 1 in leaves 1\.6 x 0\.0 in for the pitch; expected at least 1\.5 x 0\.8 in\. "
        r"Ask for a larger size, or leave it out\.$",
    ):
        draw(make_scene(), size=(2, 1))


def test_broken_titles_leave_no_single_word_and_facts_stay_whole():
    scene = make_scene(
        title="Where the ball gains ground, Ostbrook Rovers of the Marsh", n=22, n_of="players", marks=(),
        attacking="Alder Lanterns attack\u00a0→ · ←\u00a0Ostbrook Rovers of the Marsh attack",
    )  # fmt: skip
    words = svg_words(scene)
    assert words[:2] == ["Where the ball gains ground,", "Ostbrook Rovers of the Marsh"]
    assert words[3:5] == [
        "n = 22 players · Alder Lanterns attack\u00a0→",
        "←\u00a0Ostbrook Rovers of the Marsh attack",
    ]


def test_message_is_broken_into_lines_of_like_length():
    words = svg_words(make_scene(message="No passes or carries that gain ground left to draw.", marks=()))
    assert {"No passes or carries that", "gain ground left to draw."} <= set(words)


def test_a_folder_that_is_not_there_is_named(tmp_path):
    message = f"the folder {str(tmp_path / 'pictures')!r} is not there; make it first, or name another one."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        make_scene().save(tmp_path / "pictures" / "x.png")


def test_a_place_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "x.png").mkdir()
    message = f"cannot write {str(tmp_path / 'x.png')!r} (Is a directory); name another file or folder."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        make_scene().save(tmp_path / "x.png")


@pytest.mark.parametrize("dpi", [0, -1, 2401])
def test_resolution_out_of_range(tmp_path, dpi):
    message = f"dpi is {dpi}; expected dots an inch from 1 to 2400, such as 200."
    with pytest.raises(TacticalKitError, match=f"^{re.escape(message)}$"):
        make_scene().save(tmp_path / "x.png", dpi=dpi)


def test_unknown_format(tmp_path):
    message = "format of a picture is 'gif'; expected one of 'png', 'svg', 'pdf'."
    with pytest.raises(UnknownNameError, match=f"^{re.escape(message)}$"):
        make_scene().save(tmp_path / "x.gif")
    assert list(tmp_path.iterdir()) == []


def test_save_sets_form_by_ending_and_size_by_dpi(tmp_path):
    starts = {"png": b"\x89PNG", "svg": b"<?xml", "pdf": b"%PDF"}
    for form, start in starts.items():
        assert make_scene().save(tmp_path / f"a.{form.upper()}").read_bytes().startswith(start)
    small = imread(make_scene().save(tmp_path / "s.png", dpi=50, size=(6, 6)))
    assert small.shape[:2] == (300, 300)


def test_drawn_numbers_are_those_of_the_scene():
    scene = make_scene()
    axes = draw(scene).axes[0]
    points = {(float(x), float(y)) for line in axes.lines for x, y in [(line.get_xdata()[0], line.get_ydata()[0])]}
    for mark in scene.of(Disc) + scene.of(Ball):
        assert (mark.x, mark.y) in points
    corners = [p.get_xy().tolist() for p in axes.patches]
    zone = scene.of(Zone)[0]
    assert any(c[:4] == [list(p) for p in zone.points] for c in corners)


def test_own_axes_get_the_pitch_only():
    figure = Figure(figsize=(5, 4))
    ax = figure.add_subplot()
    assert draw(make_scene(), ax) is figure
    assert figure.texts == [] and ax.get_aspect() == 1
    assert ax.get_xlim() == (-55.5, 55.5)


def test_notebook_picture_is_twice_the_shown_size_and_has_alt_text():
    scene = make_scene()
    data, facts = notebook_png(scene)
    height, width = imread(io.BytesIO(data)).shape[:2]
    assert abs(width - 2 * facts["width"]) <= 1 and abs(height - 2 * facts["height"]) <= 1
    assert 630 <= facts["width"] <= 650 and facts["alt"] == scene.alt
    assert scene._repr_png_()[1] == facts


@pytest.mark.parametrize("symbol", KEY_SYMBOLS)
def test_each_legend_symbol_draws_something_new(symbol):
    plain = imread(io.BytesIO(to_bytes(Scene("t", legend=[KeyItem("none", "x")]), dpi=60)))
    drawn = imread(io.BytesIO(to_bytes(Scene("t", legend=[KeyItem(symbol, "x")]), dpi=60)))
    assert (symbol == "none") == (plain.shape == drawn.shape and bool(np.array_equal(plain, drawn)))


def test_message_is_printed():
    assert {"No passes left.", "Because."} <= set(svg_words(Scene("t", message="No passes left.\nBecause.")))
