"""How quickly the explorer is ready, and how quickly a filter reaches every chart; figures are printed.

Run with: pytest tests/benchmarks/test_explorer.py -m benchmark --benchmark-enable -s
Aims (the kit's own): ready within 2 s of the call; from a filter to repainted charts p95 within 100 ms.
Wall-clock figures depend on what else the machine does, so CPU time stands beside them.
"""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest
from bokeh.document import Document

from tactical_kit.demo import demo_match
from tactical_kit.explorer.app import Screen
from tactical_kit.explorer.store import Store, prepare_match
from tactical_kit.measures.selection import Selection

pytestmark = pytest.mark.benchmark

CHANGE_JS = """
async ([name, attr, values]) => {
  const d = Bokeh.documents[0], model = d.get_model_by_name(name), words = d.get_model_by_name('words')
  const frame = () => new Promise(r => requestAnimationFrame(r))
  const out = []
  for (const value of values) {
    const start = performance.now()
    const heard = new Promise(r => {
      const once = () => { words.properties.data.change.disconnect(once); r(performance.now()) }
      words.properties.data.change.connect(once)
    })
    if (attr == 'data') { model.data = value } else { model[attr] = value }
    const data = await heard
    await frame(); await frame()
    out.push([data - start, performance.now() - start])
    await new Promise(r => setTimeout(r, 150))
  }
  return out
}
"""


ASK_JS = """
async (questions) => {
  const d = Bokeh.documents[0], asked = d.get_model_by_name('asked')
  const places = d.get_model_by_name('places.main.discs'), answered = asked.__answered ??=
    [...d.all_models].find(m => m.name == 'answered')
  const frame = () => new Promise(r => requestAnimationFrame(r))
  const heard = (model, property) => new Promise((r, refuse) => {
    setTimeout(() => refuse(new Error(`${model.name} did not change`)), 5000)
    const signal = model.properties[property].change
    const once = () => { signal.disconnect(once); r(performance.now()) }
    signal.connect(once)
  })
  const out = []
  for (const question of questions) {
    const start = performance.now()
    const dots = heard(places, 'data'), answer = heard(answered, 'data')
    asked.data = {question: [JSON.stringify(question)], nonce: [start]}
    const shown = await dots
    await frame(); await frame()
    const painted = performance.now()
    await answer
    await frame(); await frame()
    out.push([shown - start, painted - start, performance.now() - start])
    await new Promise(r => setTimeout(r, 120))
  }
  return out
}
"""


@pytest.fixture(scope="module")
def match():
    return demo_match()


FINDERS = ("switch", "possession", "press", "block")


def told(name, times):
    for what, place in (("to dots in the page", 0), ("to dots painted", 1), ("to everything painted", 2)):
        tell(f"{name} {what}", [t[place] for t in times])


def selections(match, count=60):
    rng = np.random.default_rng(1)
    made = []
    for i in range(count):
        start = float(rng.integers(0, 2000))
        conditions = {"segment": ((1 + i % 2, start, start + float(rng.integers(300, 2500))),)}
        if i % 3 == 0:
            conditions["phases"] = frozenset([("build-up", "progression", "final third")[i // 3 % 3]])
        made.append(Selection(team=match.teams[i % 2].team_id, **conditions))
    return made


def tell(name, milliseconds):
    p50, p95 = np.percentile(milliseconds, [50, 95])
    print(f"\n{name}: p50 {p50:.0f} ms, p95 {p95:.0f} ms (n = {len(milliseconds)})")
    return p50, p95


def test_ready(match):
    wall, cpu = time.perf_counter(), time.process_time()
    prepare_match(match)
    prepared = time.perf_counter() - wall
    screen = Screen(Store(match))
    made = time.perf_counter() - wall
    document = Document()
    document.add_root(screen.root)
    document.to_json()
    total = time.perf_counter() - wall
    print(
        f"\nready: phases and index {prepared:.2f} s, with the page's models {made:.2f} s, "
        f"written out {total:.2f} s (CPU {time.process_time() - cpu:.2f} s)"
    )


def test_python_side_of_a_filter(match):
    store = Store(match)
    screen = Screen(store)
    Document().add_root(screen.root)
    store._cache.clear()  # nothing has been asked before
    wall, cpu = [], []
    for selection in selections(match):
        start, used = time.perf_counter(), time.process_time()
        store.select(selection)
        wall.append(1e3 * (time.perf_counter() - start))
        cpu.append(1e3 * (time.process_time() - used))
    tell("filter to all views, Python, wall", wall)
    tell("filter to all views, Python, CPU", cpu)


def test_python_side_of_a_finder_and_of_a_filter_on_its_numbers(match):
    store = Store(match)
    screen = Screen(store)
    Document().add_root(screen.root)
    for finder in FINDERS:  # found once: from then on they are kept
        store.show_list(finder)
    picked = timed([{"ask": "finder", "value": FINDERS[i % len(FINDERS)]} for i in range(60)], screen)
    tell("picking a cached finder, Python", picked)
    store.show_list("switch")
    tell("filter on a number to all views, Python", timed(number_questions(), screen))
    screen.halves.show(True)
    screen.claim.show(True)
    tell("the same with both halves and a claim unfolded", timed(number_questions(33.05), screen))


def timed(questions, screen):
    times = []
    for question in questions:
        start = time.perf_counter()
        screen.asking.ask(**question)
        times.append(1e3 * (time.perf_counter() - start))
    return times


def number_questions(first=33.0):
    """Each one leaves another number of moments than the one before."""
    limits = [first + 15 * (i % 2) + 0.1 * i for i in range(40)]
    return [{"ask": "limit", "column": "lateral_m", "end": "low", "value": f"{v:g}"} for v in limits]


def test_numbers_of_the_charts(match):
    store = Store(match)
    for name in ("network", "progression", "pressure"):
        times = []
        store._cache.clear()
        for selection in selections(match):
            start = time.perf_counter()
            store._measure(name, selection)
            times.append(1e3 * (time.perf_counter() - start))
        tell(f"numbers of the {name}", times)


@pytest.mark.browser
def test_a_filter_to_the_painted_page(match):
    import shutil

    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if path is None:
        pytest.skip("no Chromium on this machine; on Debian it comes with: apt-get install -y chromium")
    from playwright.sync_api import sync_playwright

    from tactical_kit.explorer.serve import serve

    server = serve(match, open_browser=False, threaded=True)
    try:
        time.sleep(1)
        with sync_playwright() as play:
            flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
            browser = play.chromium.launch(executable_path=path, args=flags)
            page = browser.new_page(viewport={"width": 1280, "height": 1400})
            start = time.perf_counter()
            page.goto(server.url)
            page.wait_for_function(
                "() => Number.isFinite(window.Bokeh?.documents?.[0]?.get_model_by_name('playback-ball')?.data.x[0])",
                timeout=60_000,
            )
            print(f"\npage asked for to players on the pitch: {time.perf_counter() - start:.2f} s")
            page.wait_for_timeout(2000)
            page.evaluate(CHANGE_JS, ["filter-phases", "active", [[i % 5] for i in range(10)]])  # warm
            phases = page.evaluate(CHANGE_JS, ["filter-phases", "active", [[i % 5] for i in range(40)]])
            page.evaluate(CHANGE_JS, ["filter-phases", "active", [[]]])
            drags = [{"a": [60 * i], "b": [60 * i + 1200], "nonce": [i]} for i in range(40)]
            brush = page.evaluate(CHANGE_JS, ["brush-asked", "data", drags])
            for name, times in (("phase", phases), ("brush", brush)):
                tell(f"{name}: change to data in the page", [t[0] for t in times])
                tell(f"{name}: change to two frames later", [t[1] for t in times])
            page.evaluate("Bokeh.documents[0].get_model_by_name('view').value = 'team=home;list=switch'")
            page.wait_for_timeout(1000)
            picks = [{"ask": "finder", "value": FINDERS[(i + 1) % len(FINDERS)]} for i in range(40)]
            page.evaluate(ASK_JS, picks[: 2 * len(FINDERS)])  # found once: from then on they are kept
            times = page.evaluate(ASK_JS, picks)
            told("picking a cached finder", times)
            told("filter on a number", page.evaluate(ASK_JS, number_questions()))
            frames = page.evaluate("""async () => {
              const ball = Bokeh.documents[0].get_model_by_name('playback-ball'); let n = 0
              ball.change.connect(() => { n += 1 })
              const fig = Bokeh.documents[0].get_model_by_name('playback-figure')
              fig.__moving_pitch.start()
              await new Promise(r => setTimeout(r, 4000)); fig.__moving_pitch.pause()
              return n / 4
            }""")
            print(f"\nmoving pitch: {frames:.0f} frames a second")
            assert frames >= 25
            browser.close()
    finally:
        server.stop()
        assert threading.main_thread().is_alive()
