"""A finder in a real browser: picked, filtered by its own number, played, made a claim; common practice, no source."""

import re

import pytest

from tactical_kit.claims import read_claim_sheet
from tactical_kit.demo import demo_match
from tactical_kit.explorer import Explorer
from tactical_kit.explorer.store import prepare_match

READY = """() => {
  const d = window.Bokeh?.documents?.[0]
  const ball = d?.get_model_by_name('playback-ball')
  return ball != null && Number.isFinite(ball.data.x[0])
}"""
MODEL = "Bokeh.documents[0].get_model_by_name"


@pytest.fixture(scope="module")
def match():
    made = demo_match()
    prepare_match(made)
    return made


@pytest.fixture
def sheet(tmp_path):
    return tmp_path / "claims.toml"


@pytest.fixture(params=[1280, 800])
def page(request, match, sheet, serve_page, open_page):
    url = serve_page(lambda: Explorer(match, sheet=sheet).panel())
    watched = open_page(url, request.param, 900)
    watched.page.wait_for_function(READY, timeout=30_000)
    watched.page.wait_for_timeout(500)
    yield watched.page
    watched.assert_quiet()
    assert watched.hosts == {"127.0.0.1"}


def view_has(page, text):
    page.wait_for_function(f"t => {MODEL}('view').value.includes(t)", arg=text, timeout=10_000)


def open_numbers(page):
    """On a narrow page they are folded away."""
    head = page.locator("summary", has_text="by its own numbers")
    if not page.locator("input[data-ask=limit]").first.is_visible():
        head.click()


def rows(page):
    return page.locator("table.rows tbody tr")


def test_from_a_finder_to_a_claim_in_the_sheet(page, sheet):
    page.get_by_role("combobox", name="finder").select_option("switch")
    view_has(page, "list=switch")
    page.get_by_text("The ball moved from one side of the pitch to the other").first.wait_for()
    every = page.evaluate(f"{MODEL}('places.main.discs').data.x.length")
    open_numbers(page)
    field = page.get_by_role("textbox", name="how far the ball went across the pitch, at least")
    field.fill("45")
    field.press("Tab")
    view_has(page, "where=lateral_m:45..")
    page.wait_for_function(f"n => {MODEL}('places.main.discs').data.x.length < n", arg=every)
    # The hand went on to the next field and is still there.
    name = """() => {
      let el = document.activeElement
      while (el?.shadowRoot?.activeElement) { el = el.shadowRoot.activeElement }
      return el?.getAttribute('aria-label')
    }"""
    assert page.evaluate(name) == "how far the ball went across the pitch, at most"
    # Play a moment of the list.
    start = rows(page).nth(1).locator("button").inner_text()
    rows(page).nth(1).click()
    page.wait_for_function(f"{MODEL}('playback-report').data.playing?.[0] == 1", timeout=10_000)
    clock = page.evaluate(f"{MODEL}('playback-words').data.text[0]")
    assert 0 <= _seconds(clock) - _seconds(start) <= 5
    rings = f"[...{MODEL}('playback-home').data.edge, ...{MODEL}('playback-away').data.edge].filter(e => e > 2).length"
    assert page.evaluate(rings) >= 1
    assert page.evaluate(f"Number.isFinite({MODEL}('playback-place').data.x[0])")
    # The claim, typed and added in one go: the button is pressed while the field still has the focus.
    page.get_by_role("button", name=re.compile("^Make a claim")).click()
    page.get_by_role("combobox", name="how often").select_option("usually")
    page.get_by_role("textbox", name=re.compile("^The claim")).fill("They usually switch over 45 m")
    page.get_by_role("button", name="Add to claim sheet").click()
    page.get_by_text("Added as claim 1.").wait_for(timeout=10_000)
    (written,) = read_claim_sheet(sheet).claims
    assert (written.text, written.finder, written.word) == ("They usually switch over 45 m", "switch", "usually")
    assert [c.to_text() for c in written.where] == ["lateral_m at least 45"]
    # A counterexample plays though the filter leaves it out.
    against = page.locator(".against button").first
    start = against.inner_text()
    against.click()
    page.wait_for_function(f"t => {MODEL}('playback-words').data.text[0].startsWith(t.slice(0, 2))", arg=start)
    page.get_by_text("not in the list: the filters leave it out").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def _seconds(clock):
    minute, second = clock.replace("+", ":").split(":")[-2:]
    return int(minute) * 60 + int(second)


def test_a_drag_over_the_bars_asks_for_a_range_and_undo_takes_it_back(page):
    page.get_by_role("combobox", name="finder").select_option("switch")
    view_has(page, "list=switch")
    open_numbers(page)
    bars = page.locator("svg[data-brush=lateral_m]")
    bars.scroll_into_view_if_needed()
    box = bars.bounding_box()
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 10)
    page.mouse.down()
    for share in (0.4, 0.5, 0.6, 0.7):
        page.mouse.move(box["x"] + share * box["width"], box["y"] + 10, steps=2)
        page.wait_for_timeout(60)
    page.mouse.up()
    view_has(page, "where=lateral_m:")
    page.wait_for_timeout(300)
    low, high = re.search(r"lateral_m:([\d.]+?)\.\.([\d.]+)", page.evaluate(f"{MODEL}('view').value")).groups()
    ends = [float(page.locator(f"input[data-column=lateral_m][data-end={e}]").get_attribute("placeholder")) for e in
            ("low", "high")]  # fmt: skip
    wide = ends[1] - ends[0]
    assert float(low) == pytest.approx(ends[0] + 0.3 * wide, abs=0.05 * wide)
    assert float(high) == pytest.approx(ends[0] + 0.7 * wide, abs=0.05 * wide)
    page.get_by_role("button", name="Undo").click()
    page.wait_for_function(f"!{MODEL}('view').value.includes('where=')", timeout=5000)


def test_the_halves_side_by_side_on_one_scale(page):
    page.get_by_role("combobox", name="finder").select_option("press")
    view_has(page, "list=press")
    page.get_by_role("button", name=re.compile("^Half against half")).click()
    page.get_by_text("First half", exact=True).wait_for()
    sizes = f"['half-1', 'half-2'].map(n => [{MODEL}(n).inner_width, {MODEL}(n).inner_height])"
    page.wait_for_function(f"{sizes}.flat().every(v => v > 100)", timeout=10_000)
    one, other = page.evaluate(sizes)
    assert one == pytest.approx(other, abs=2)
    drawn = page.evaluate(f"['half-1', 'half-2'].map(n => {MODEL}(n + '.main.discs').data.x.length)")
    assert sum(drawn) > 0
    page.get_by_role("combobox", name="compare the halves by").select_option(index=1)
    view_has(page, "compare=")


def test_the_tab_key_goes_through_the_finder(page):
    """Every field of the finder, its filters and the folds below is reached and shows where it is."""
    open_numbers(page)
    focus = """() => {
      let el = document.activeElement
      while (el?.shadowRoot?.activeElement) { el = el.shadowRoot.activeElement }
      if (el == null || el == document.body) { return null }
      const look = getComputedStyle(el), host = getComputedStyle(el.getRootNode().host ?? el)
      const ring = [look, host].some(s => s.outlineStyle != 'none' && parseFloat(s.outlineWidth) > 0)
      return [(el.getAttribute('aria-label') ?? el.innerText ?? '').trim() || el.tagName, ring]
    }"""
    page.get_by_role("combobox", name="finder").focus()
    reached = [page.evaluate(focus)]
    for _ in range(90):
        page.keyboard.press("Tab")
        now = page.evaluate(focus)
        if now is None:
            break
        reached.append(now)
    assert [name for name, ring in reached if not ring] == []
    names = [name for name, _ in reached]
    wanted = ("finder", "All ", "later", "Filter “possession”", "Thresholds", "Half against half", "Make a claim")
    places = [next((i for i, name in enumerate(names) if name.startswith(w)), w) for w in wanted]
    assert [p for p in places if not isinstance(p, int)] == [], "; ".join(names)
    assert places == sorted(places), "; ".join(names)
    # Arrows go up and down the rows, Enter plays.
    rows(page).nth(0).locator("button").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_function(f"{MODEL}('playback-report').data.playing?.[0] == 1", timeout=10_000)
    assert rows(page).nth(1).get_attribute("class") == "picked"


def test_a_slow_finder_says_that_it_searches(match, serve_page, open_page):
    """The page itself counts the seconds, as Python is busy."""
    import time

    from tactical_kit.finders import finder
    from tactical_kit.finders.registry import _FINDERS
    from tactical_kit.moments import Moments

    @finder("slow in a test", needs=("events",), finds="Nothing, slowly.")
    def find_slowly(match):
        time.sleep(2.5)
        return Moments.build("slow in a test", [], match_id=match.match_id)

    try:
        watched = open_page(serve_page(lambda: Explorer(match).panel()), 1280, 900)
        page = watched.page
        page.wait_for_function(READY, timeout=30_000)
        page.wait_for_timeout(500)
        page.get_by_role("combobox", name="finder").select_option("slow in a test")
        said = page.get_by_text(re.compile(r"^Searching the whole match … [12] s$"))
        said.wait_for(timeout=3000)
        page.get_by_text("None found in this match, of either side.").wait_for(timeout=10_000)
        assert not said.is_visible()
        watched.assert_quiet()
    finally:
        del _FINDERS["slow in a test"]
