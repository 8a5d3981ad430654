"""The explorer as a page in a real browser: what a hand does reaches every view, and nothing is asked from outside."""

import io
import re

import pytest

from tactical_kit.demo import demo_match
from tactical_kit.explorer import Explorer
from tactical_kit.explorer.store import prepare_match

READY = """() => {
  const d = window.Bokeh?.documents?.[0]
  const ball = d?.get_model_by_name('playback-ball')
  return ball != null && Number.isFinite(ball.data.x[0])
}"""
MODEL = "Bokeh.documents[0].get_model_by_name"
CHARTS = ("network.main.discs", "progression.main.zones", "pressure.main.zones")


@pytest.fixture(scope="module")
def match():
    made = demo_match()
    prepare_match(made)
    return made


@pytest.fixture(params=[1280, 800])
def page(request, match, serve_page, open_page):
    url = serve_page(lambda: Explorer(match).panel())
    watched = open_page(url, request.param, 900)
    watched.page.wait_for_function(READY, timeout=30_000)
    watched.page.wait_for_timeout(300)
    yield watched.page
    watched.assert_quiet()
    assert watched.hosts == {"127.0.0.1"}


def drawn(page, name):
    """What a source of the page holds, as text."""
    return page.evaluate(f"(n) => JSON.stringify(Object.values({MODEL}(n).data).map(c => Array.from(c)))", name)


def all_drawn(page):
    return {name: drawn(page, name) for name in CHARTS}


def wait_for_change(page, before, names=CHARTS):
    for name in names:
        page.wait_for_function(
            f"([n, old]) => JSON.stringify(Object.values({MODEL}(n).data).map(c => Array.from(c))) != old",
            arg=[name, before[name]], timeout=10_000,
        )  # fmt: skip


def said(page):
    return page.locator('[aria-live="polite"] b').inner_text()


def box_of(page, model):
    """Where the frame of a figure lies on the page: x, y, width, height, px."""
    page.evaluate(f"{MODEL}('{model}').document.views_manager.find_one({MODEL}('{model}')).el.scrollIntoView()")
    return page.evaluate(
        f"""() => {{
          const v = {MODEL}('{model}').document.views_manager.find_one({MODEL}('{model}'))
          const r = v.el.getBoundingClientRect(), f = v.frame.bbox
          return [r.left + f.left, r.top + f.top, f.width, f.height]
        }}"""
    )


def click_data(page, figure, source, index):
    """Click on a mark of a figure where the page drew it."""
    box_of(page, figure)
    x, y = page.evaluate(
        f"""([figure, source, i]) => {{
          const fig = {MODEL}(figure), view = fig.document.views_manager.find_one(fig), d = {MODEL}(source).data
          const mean = (v) => v.length == null ? v : (Math.min(...v) + Math.max(...v)) / 2
          const at = [mean((d.x ?? d.xs)[i]), mean((d.y ?? d.ys)[i])]
          const r = view.el.getBoundingClientRect()
          return [r.left + view.frame.x_scale.compute(at[0]), r.top + view.frame.y_scale.compute(at[1])]
        }}""",
        [figure, source, index],
    )
    page.mouse.click(x, y)


def open_filters(page):
    """On a narrow page they are folded away."""
    button = page.get_by_role("button", name=re.compile("^Filters"))
    assert button.is_visible() == (page.viewport_size["width"] < 1000)
    if button.is_visible():
        assert not page.get_by_label(re.compile("^progression")).is_visible()
        button.click()


def test_brushing_the_time_line_changes_all_three_charts(page):
    before = all_drawn(page)
    x, y, width, height = box_of(page, "timeline")
    page.mouse.move(x + 0.2 * width, y + height / 2)
    page.mouse.down()
    page.mouse.move(x + 0.3 * width, y + height / 2, steps=4)
    page.mouse.move(x + 0.4 * width, y + height / 2, steps=4)
    page.mouse.up()
    wait_for_change(page, before)
    page.wait_for_function("document.querySelector('*') && " + f"{MODEL}('brush-shown').data.whole[0] == 0")
    a, b = page.evaluate(f"[{MODEL}('brush-frame').left, {MODEL}('brush-frame').right]")
    total = page.evaluate(f"{MODEL}('timeline').x_range.end")
    assert a / total == pytest.approx(0.2, abs=0.02) and b / total == pytest.approx(0.4, abs=0.02)
    assert "first half" in said(page)
    # Inside the frame a drag moves the segment and keeps its length.
    page.mouse.move(x + 0.3 * width, y + height / 2)
    page.mouse.down()
    page.mouse.move(x + 0.5 * width, y + height / 2, steps=6)
    page.mouse.up()
    page.wait_for_function(f"Math.abs({MODEL}('brush-shown').data.a[0] / {total} - 0.4) < 0.02", timeout=5000)
    moved = page.evaluate(f"[{MODEL}('brush-shown').data.a[0], {MODEL}('brush-shown').data.b[0]]")
    assert moved[1] - moved[0] == pytest.approx(b - a, abs=3)
    page.mouse.dblclick(x + 0.9 * width, y + height / 2)
    page.wait_for_function(f"{MODEL}('brush-shown').data.whole[0] == 1", timeout=5000)


def test_a_phase_changes_all_three_charts_and_undo_brings_them_back(page):
    before = all_drawn(page)
    open_filters(page)
    page.get_by_label(re.compile("^progression")).check()
    wait_for_change(page, before)
    assert "in progression" in said(page)
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function(
        f"(old) => JSON.stringify(Object.values({MODEL}('network.main.discs').data).map(c => Array.from(c))) == old",
        arg=before["network.main.discs"], timeout=10_000,
    )  # fmt: skip
    assert all_drawn(page) == before


def test_a_player_picked_in_the_network_filters_the_maps(page):
    before = all_drawn(page)
    click_data(page, "network", "network.main.discs", 0)
    wait_for_change(page, before)
    assert "through " in said(page)


def test_an_area_drawn_on_the_moving_pitch_filters_the_network(page):
    before = all_drawn(page)
    x, y, width, height = box_of(page, "playback-figure")
    page.mouse.move(x + 0.55 * width, y + 0.3 * height)
    page.mouse.down()
    page.mouse.move(x + 0.9 * width, y + 0.8 * height, steps=5)
    page.mouse.up()
    wait_for_change(page, before, ("network.main.discs",))
    assert "from the area" in said(page)


def test_a_moment_plays(page):
    row = page.locator("table.rows tbody button").nth(2)
    start = row.inner_text()
    row.click()
    ball = f"Array.from({MODEL}('playback-ball').data.x).concat(Array.from({MODEL}('playback-ball').data.y)).join()"
    seen = set()
    for _ in range(8):
        page.wait_for_timeout(150)
        seen.add(page.evaluate(ball))
    assert len(seen) >= 5  # it moves
    clock = page.evaluate(f"{MODEL}('playback-words').data.text[0]")
    assert _seconds(clock) - _seconds(start) in range(0, 4)


def _seconds(clock):
    minute, second = clock.replace("+", ":").split(":")[-2:]
    return int(minute) * 60 + int(second)


def test_the_keyboard_steers_the_moving_pitch(page):
    page.evaluate(f"{MODEL}('playback-figure').document.views_manager.find_one({MODEL}('playback-figure')).el.focus()")
    clock = f"{MODEL}('playback-words').data.text[0]"
    assert page.evaluate(clock) == "00:00"
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    assert page.evaluate(clock) == "00:05"
    x = f"{MODEL}('playback-ball').data.x[0]"
    page.keyboard.press("PageDown")
    page.wait_for_function(f"{clock} == '00:15'")
    places = {page.evaluate(x)}
    for _ in range(4):
        page.keyboard.press(".")
        places.add(page.evaluate(x))
    assert len(places) >= 3
    page.keyboard.press("Space")
    page.wait_for_timeout(700)
    assert page.get_by_role("button", name="Pause").count() == 1
    page.keyboard.press("Space")
    assert page.get_by_role("button", name="Play", exact=True).count() == 1
    stopped = page.evaluate(x)
    page.wait_for_timeout(300)
    assert page.evaluate(x) == stopped
    # The cursor reached Python, and the text of the view tells it.
    page.wait_for_function(f"/at=1:1[56]/.test({MODEL}('view').value)", timeout=5000)


FOCUS = """() => {
  let el = document.activeElement
  while (el?.shadowRoot?.activeElement) { el = el.shadowRoot.activeElement }
  if (el == null || el == document.body) { return null }
  const ring = [el, el.closest('.choices__inner'), el.getRootNode().host].some(
    e => e != null && getComputedStyle(e).outlineStyle != 'none' && parseFloat(getComputedStyle(e).outlineWidth) > 0)
  return [(el.labels?.[0] ?? el).innerText || el.placeholder || el.tagName, ring]
}"""


def test_the_tab_key_reaches_everything_in_order_and_shows_where_it_is(page):
    open_filters(page)
    page.get_by_role("button", name="whole match").focus()
    page.keyboard.press("Shift+Tab")
    reached = []
    for _ in range(120):
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        if focus is None:
            break
        reached.append(focus)
    names = [name.strip() for name, _ in reached]
    assert [name for name, ring in reached if not ring] == []
    wanted = (
        "whole match", "75–90", "Reset", "both", "without the ball", "build-up", "set play", "leading", "free",
        "any player", "anywhere", "Play", "Trails", "later",
    )  # fmt: skip
    places = [next((i for i, name in enumerate(names) if name.startswith(w)), w) for w in wanted]
    assert [p for p in places if not isinstance(p, int)] == [], "; ".join(names)
    assert places == sorted(places), "; ".join(names)


def test_an_area_is_cleared_by_a_button(page):
    before = all_drawn(page)
    page.evaluate(f"{MODEL}('view').value = {MODEL}('view').value + ';area=0:-20:40:20'")
    wait_for_change(page, before, ("network.main.discs",))
    open_filters(page)
    page.get_by_role("button", name="Clear the drawn area").click()
    page.wait_for_function(f"!/area/.test({MODEL}('view').value)", timeout=5000)
    assert all_drawn(page) == before


def test_everything_lies_within_the_page(page):
    width = page.viewport_size["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # One pixel a metre along and across is the same: the pitch is not bent.
    for name in ("playback-figure", "network", "progression", "pressure"):
        along, across = page.evaluate(
            f"""(n) => {{
              const f = {MODEL}(n)
              return [f.inner_width / (f.x_range.end - f.x_range.start), f.inner_height / (f.y_range.end - f.y_range.start)]
            }}""",
            name,
        )
        assert along == pytest.approx(across, rel=0.03), name
    tops = [box_of(page, n)[0] for n in ("playback-figure", "network")]
    assert (abs(tops[0] - tops[1]) < 5) == (width < 1000)  # one column on the narrow page
    shot = page.screenshot(full_page=True)
    assert len(io.BytesIO(shot).getvalue()) > 50_000


def test_names_are_shown_as_they_are_written(match, serve_page, open_page):
    evil = "<img src=x onerror=window.pwned=1>"
    home = match.home
    from dataclasses import replace

    players = tuple(replace(p, name=evil) if i == 1 else p for i, p in enumerate(home.players))
    named = match.with_data(home=replace(home, name=f"{evil} FC", short_name=evil, players=players), label=evil)
    watched = open_page(serve_page(lambda: Explorer(named).panel()), 1280, 900)
    watched.page.wait_for_function(READY, timeout=30_000)
    watched.page.locator("input[type=search]").first.click()
    watched.page.wait_for_timeout(500)
    assert watched.page.evaluate("window.pwned") is None
    assert watched.page.get_by_text(f"{evil} FC").count() > 0
    watched.assert_quiet()
