"""The canvas in a real browser: data, words, taps and areas as a reader meets them."""

import panel  # noqa: F401 (it adds to what Bokeh's pages ask for, and a notebook has always imported it)
import pytest

from tactical_kit.pitch import Pitch
from tactical_kit.scenes import Arrow, Disc, KeyItem, Scene, Zone

ODD = "<b>$$x$$&\"'</b><script>window.broken = 1</script>"
SCENE = Scene(
    f"Title {ODD}", f"Sub {ODD}", caption=f"Caption {ODD}", source="invented demonstration data", n=3, n_of="passes",
    legend=(KeyItem("home", f"Key {ODD}"),),
    marks=(
        Disc(0, 0, label="4", name="Ash", team=0, key="p4", hover=f"{ODD}\nsecond line"),
        Disc(30, 20, label="9", team=1, key="p9"),
        Arrow(0, 0, 30, 20, team=0, value=3.0),
        Zone.rect(-50, -30, -30, -10, value=7.0, shade=0.5, label="7", key="corner", few=True),
    ),
)  # fmt: skip


@pytest.fixture
def page_of(open_page, tmp_path):
    def made(scene, width=640, **options):
        canvas = scene.canvas(**options)
        canvas.on_pick(lambda kind, key: None)
        canvas.on_area(lambda area: None)
        path = tmp_path / "canvas.html"
        path.write_text(canvas.to_html(), encoding="utf-8")
        watched = open_page(path.as_uri(), width=width, height=900)
        watched.page.wait_for_selector(".bk-Figure")
        watched.page.wait_for_function("Bokeh.documents.length > 0 && Bokeh.documents[0].is_idle")
        return watched

    return made


def data_of(page, name):
    script = "name => Object.fromEntries([...Object.entries(Bokeh.documents[0].get_model_by_name(name).data)])"
    return page.evaluate(script, name)


def place(page, x, y, pitch=SCENE.pitch):
    """Screen point of a place in metres."""
    box = page.locator(".bk-Figure").bounding_box()
    wide, high = pitch.length_m + 6, pitch.width_m + 6
    return (
        box["x"] + (x + wide / 2) / wide * box["width"],
        box["y"] + (high / 2 - y) / high * box["height"],
    )


def test_page_holds_the_numbers_and_the_words(page_of):
    watched = page_of(SCENE)
    page = watched.page
    discs = data_of(page, "pitch.main.discs")
    assert (list(discs["x"]), list(discs["y"]), list(discs["key"])) == ([0, 30], [0, 20], ["p4", "p9"])
    assert data_of(page, "pitch.main.zones")["value"] == [7]
    text = page.evaluate("""() => {
        const all = root => [...root.querySelectorAll("*")].flatMap(
            e => e.shadowRoot ? [e.shadowRoot.textContent, ...all(e.shadowRoot)] : [])
        return all(document).join("\\n")
    }""")
    for words in (f"Title {ODD}", f"Sub {ODD}", f"Caption {ODD}", f"Key {ODD}", "few: n = 3 passes"):
        assert words in text
    assert page.evaluate("window.broken === undefined")
    watched.assert_quiet()


def test_hover_shows_names_as_text(page_of):
    watched = page_of(SCENE)
    page = watched.page
    page.mouse.move(*place(page, 0, 0))
    shown = page.locator(".bk-tooltip-content")
    shown.wait_for()
    assert shown.inner_text() == f"{ODD}\nsecond line"
    assert shown.locator("b").count() == 0 and shown.locator("script").count() == 0
    assert page.evaluate("window.broken === undefined")
    # A mark that has nothing to say shows no box: the arrow, half way.
    page.mouse.move(*place(page, 15, 10))
    shown.wait_for(state="hidden")
    watched.assert_quiet()


def test_tap_selects_the_mark(page_of):
    watched = page_of(SCENE)
    page = watched.page
    page.mouse.click(*place(page, 30, 20))
    selected = "Bokeh.documents[0].get_model_by_name('pitch.main.discs').selected.indices"
    page.wait_for_function(f"{selected}.length == 1")
    assert page.evaluate(selected) == [1]
    watched.assert_quiet()


def test_drag_draws_an_area_and_a_small_one_clears_it(page_of):
    watched = page_of(SCENE)
    page = watched.page
    for start, end, expected in (((-20, -10), (10, 15), 1), ((5, 5), (5.9, 5.9), 0), ((40, 20), (60, 40), 1)):
        page.mouse.move(*place(page, *start))
        page.mouse.down()
        page.mouse.move(*place(page, *((a + b) / 2 for a, b in zip(start, end))))
        page.mouse.move(*place(page, *end))
        page.mouse.up()
        page.wait_for_function(f"Bokeh.documents[0].get_model_by_name('pitch.area').data.left.length == {expected}")
        if start == (-20, -10):
            area = data_of(page, "pitch.area")
            drawn = [area[side][0] for side in ("left", "bottom", "right", "top")]
            assert drawn == pytest.approx([-20, -10, 10, 15], abs=0.5)
    clipped = data_of(page, "pitch.area")
    assert (clipped["right"], clipped["top"]) == ([52.5], [34])
    watched.assert_quiet()


def test_canvas_alone_in_a_cell_needs_no_network(open_page, tmp_path):
    path = tmp_path / "cell.html"
    path.write_text(f"<!DOCTYPE html><meta charset='utf-8'>{SCENE.canvas()._repr_html_()}", encoding="utf-8")
    watched = open_page(path.as_uri(), width=700)
    inside = watched.page.frame_locator("iframe")
    inside.locator(".bk-Figure canvas").first.wait_for()
    box = watched.page.locator("iframe").bounding_box()
    figure = inside.locator(".bk-Figure").bounding_box()
    assert figure["y"] + figure["height"] < box["y"] + box["height"]
    watched.assert_quiet()


@pytest.mark.parametrize("width", [400, 800, 1280])
@pytest.mark.parametrize("size", [(105, 68), (90, 45), (120, 90)])
def test_pitch_fills_the_width_and_keeps_its_proportions(page_of, width, size):
    watched = page_of(Scene("t", pitch=Pitch(*size), marks=(Disc(0, 0, team=0),)), width=width, width_px=width)
    frame = watched.page.locator(".bk-Figure").bounding_box()
    assert frame["width"] == pytest.approx(width, abs=20)
    inner = watched.page.evaluate("""() => {
        const view = Object.values(Bokeh.index.roots ?? Bokeh.index)[0]
        const figure = view.child_views.find(v => v.model.type == "Figure")
        return [figure.frame.bbox.width, figure.frame.bbox.height]
    }""")
    assert inner[0] / inner[1] == pytest.approx((size[0] + 6) / (size[1] + 6), rel=0.01)
    watched.assert_quiet()
