"""The main job as a newcomer meets it: JupyterLab opens, the explorer is live, and the charts answer together.

Common practice, no source.  What the page holds is read from the page: that is where a callback that never
reached the browser shows.
"""

import contextlib
import re

import nbformat
import pytest

from tactical_kit.starter import FIRST_NOTEBOOK

CHARTS = {
    "network": ("network.main.discs", "network.main.arrows"),
    "progression": ("progression.main.zones", "progression.main.arrows"),
    "pressure": ("pressure.main.zones",),
}
# The models of the explorer that was displayed last.
MODEL = "(name => Bokeh.documents.findLast(d => d.get_model_by_name('timeline') != null)?.get_model_by_name(name))"
READ = f"""names => JSON.stringify(names.map(name => Object.entries({MODEL}(name)?.data ?? {{}}).map(
    ([column, values]) => [column, values == null ? null : Array.from(values)])))"""


def data_of(page, names):
    """What sources of the page hold, as text."""
    return page.evaluate(READ, list(names))


def charts(page):
    return {chart: data_of(page, names) for chart, names in CHARTS.items()}


def wait_until_said(page, words):
    """Wait until the sentence above the charts holds some words."""
    page.locator('[aria-live="polite"] b', has_text=words).wait_for(timeout=10_000)


def seconds(clock):
    minute, second = clock.replace("+", ":").split(":")[-2:]
    return int(minute) * 60 + int(second)


def frame_of(page, figure):
    """Scroll a figure into view and return where its frame lies: x, y, width, height, px."""
    return page.evaluate(
        f"""async figure => {{
            const model = {MODEL}(figure), view = model.document.views_manager.find_one(model)
            view.el.scrollIntoView({{block: "center"}})
            await new Promise(resolve => setTimeout(resolve, 300))
            const around = view.el.getBoundingClientRect(), frame = view.frame.bbox
            return [around.left + frame.left, around.top + frame.top, frame.width, frame.height]
        }}""",
        figure,
    )


def wait_for_change(page, before):
    """Wait until the data of every chart differ from `before`; say which did not."""
    waiting = dict(before)
    for _ in range(100):
        now = {chart: data_of(page, names) for chart, names in CHARTS.items()}
        waiting = {chart for chart in before if now[chart] == before[chart]}
        if not waiting:
            return now
        page.wait_for_timeout(100)
    pytest.fail(f"after 10 s the page still shows the same data in {sorted(waiting)}")


def wait_until_idle(page, seconds=60):
    """Wait until the kernel has been idle for a second; its state stands in the status bar."""
    calm = 0
    for _ in range(seconds * 5):
        calm = calm + 1 if page.get_by_text("Python 3 (ipykernel) | Idle").count() else 0
        if calm == 5:
            return
        page.wait_for_timeout(200)
    pytest.fail(f"the kernel was not idle within {seconds} s")


def saved(page, path):
    """Save the notebook from the menu and read it: cells far down the page are not in the page's text."""
    before = path.stat().st_mtime_ns
    page.get_by_role("menuitem", name="File", exact=True).click()
    page.get_by_role("menuitem", name=re.compile(r"^Save Notebook(?! As)")).click()
    for _ in range(100):
        page.wait_for_timeout(100)
        if path.stat().st_mtime_ns != before:
            with contextlib.suppress(nbformat.reader.NotJSONError):  # half written
                return nbformat.read(path, as_version=4)
    return pytest.fail("the notebook was not saved within 10 s")


def faults_of(notebook):
    """Code cells that did not run, or that put out an error or a warning."""
    faults = []
    for number, cell in enumerate(notebook.cells, 1):
        if cell.cell_type == "code":
            if cell.execution_count is None:
                faults.append(f"cell {number} did not run")
            faults += [f"cell {number}: {o.ename}: {o.evalue}" for o in cell.outputs if o.output_type == "error"]
    return faults


@pytest.fixture(scope="module")
def live(open_page_for_all, lab):
    """The starter notebook in JupyterLab, its explorer live without a click; the tests below share it."""
    watched = open_page_for_all(lab.address(FIRST_NOTEBOOK))
    ball = f"{MODEL}('playback-ball')"
    watched.page.wait_for_function(f"() => window.Bokeh && Number.isFinite({ball}?.data.x[0])", timeout=90_000)
    wait_until_idle(watched.page)
    return watched


def test_the_explorer_is_live_without_a_click(live):
    assert live.page.locator(".tk-line").is_visible()
    wait_until_said(live.page, "in build-up, first half")
    assert all(len(data) > 100 for data in charts(live.page).values())
    live.assert_quiet()


def test_brushing_the_timeline_changes_all_three_charts(live):
    page, before = live.page, charts(live.page)
    x, y, width, height = frame_of(page, "timeline")
    page.mouse.move(x + 0.6 * width, y + height / 2)
    page.mouse.down()
    page.mouse.move(x + 0.7 * width, y + height / 2, steps=4)
    page.mouse.move(x + 0.9 * width, y + height / 2, steps=4)
    page.mouse.up()
    wait_for_change(page, before)
    wait_until_said(page, "second half")
    live.assert_quiet()


def test_a_lost_answer_holds_nothing_back(live):
    page, before = live.page, charts(live.page)
    # As it is after an answer from Python that never came: the page believes that it still waits for one.
    waiting = """() => {
        const manager = Bokeh.documents.flatMap(d => d.roots()).filter(r => r.__no_echo).at(-1)
        manager._blocked = true
        manager._timeout = Date.now() + 60_000
    }"""
    page.evaluate(waiting)
    page.get_by_role("button", name="1st half", exact=True).click()
    wait_for_change(page, before)
    wait_until_said(page, "first half")
    live.assert_quiet()


def test_picking_a_phase_changes_all_three_charts(live):
    page, before = live.page, charts(live.page)
    page.get_by_label(re.compile("^progression")).check()
    wait_for_change(page, before)
    wait_until_said(page, "progression")
    live.assert_quiet()


def settled(page, row, quiet_ms=1000):
    """The text of a row once the list has not changed for a second: it follows the charts of the test before."""
    text = row.inner_text()
    for _ in range(20):
        page.wait_for_timeout(quiet_ms)
        if row.inner_text() == text:
            return text
        text = row.inner_text()
    raise AssertionError("the list of moments never came to rest")


def test_a_moment_plays(live):
    page = live.page
    row = page.locator("table.rows tbody button").first
    start = settled(page, row)
    row.click()
    page.wait_for_function(f"() => {MODEL}('playback-report').data.playing[0] == 1", timeout=10_000)
    seen = set()
    for _ in range(10):
        page.wait_for_timeout(150)
        seen.add(data_of(page, ["playback-ball"]))
    assert len(seen) >= 5, f"{len(seen)} different places of the ball in 1.5 s"
    clock = page.evaluate(f"{MODEL}('playback-words').data.text[0]")
    assert abs(seconds(clock) - seconds(start)) <= 6
    live.assert_quiet()


def test_every_cell_of_the_starter_notebook_ran(live, lab_folder):
    wait_until_idle(live.page)
    assert faults_of(saved(live.page, lab_folder / FIRST_NOTEBOOK)) == []
    live.assert_quiet()


def test_every_cell_of_the_lesson_runs_from_the_menu(open_page, lab, lab_folder):
    name = "03_reading_the_charts.ipynb"
    # A workspace of its own: the common one would bring back the notebooks of other tests in front of this one.
    watched = open_page(lab.address(name).replace("/lab/tree/", "/lab/workspaces/lesson/tree/"))
    page = watched.page
    page.locator(".jp-Notebook .jp-CodeCell").first.wait_for(timeout=60_000)
    wait_until_idle(page)
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    wait_until_idle(page)
    notebook = saved(page, lab_folder / name)
    assert faults_of(notebook) == []
    said = [str(o.data.get("text/plain", "")) for c in notebook.cells for o in c.get("outputs", ()) if "data" in o]
    assert sum(text.endswith(": right") for text in said) == 4
    watched.assert_quiet()
