"""The explorer as a widget in JupyterLab: `interact` drives it, and what is done in it reaches other widgets.

Common practice, no source.  What the page holds is read from the page.
"""

import re

import nbformat
import pytest

MODEL = "(name => Bokeh.documents.findLast(d => d.get_model_by_name('timeline') != null)?.get_model_by_name(name))"
CHARTS = ("network.main.discs", "progression.main.zones", "pressure.main.zones")
CELL = """
import ipywidgets
import tactical_kit as tk
from tactical_kit.demo import demo_match

widget = tk.explore(demo_match()).as_widget()

def choose(minutes=0):
    widget.segment = ((1, 0.0, 60.0 * minutes),) if minutes else ()

slider = ipywidgets.interactive(choose, minutes=(0, 40, 10))
text = ipywidgets.Text(description="state")
ipywidgets.link((widget, "view"), (text, "value"))
ipywidgets.VBox([slider, text, widget])
"""


@pytest.fixture
def page(open_page, lab, lab_folder):
    path = lab_folder / "explorer_as_widget.ipynb"
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}}
    cells = [nbformat.v4.new_code_cell(CELL.strip())]
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=kernel), path)
    watched = open_page(lab.address(path.name).replace("/lab/tree/", "/lab/workspaces/widget/tree/"))
    watched.page.locator(".jp-Notebook .jp-CodeCell").first.wait_for(timeout=60_000)
    watched.page.get_by_text("Python 3 (ipykernel) | Idle").wait_for(timeout=60_000)
    watched.page.get_by_role("menuitem", name="Run", exact=True).click()
    watched.page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    ball = f"{MODEL}('playback-ball')"
    watched.page.wait_for_function(f"() => window.Bokeh && Number.isFinite({ball}?.data.x[0])", timeout=60_000)
    watched.page.get_by_text("Python 3 (ipykernel) | Idle").wait_for(timeout=60_000)
    watched.page.wait_for_timeout(1000)  # until page and kernel have found one another
    yield watched.page
    watched.assert_quiet()


def drawn(page):
    return {name: page.evaluate(f"n => JSON.stringify(Array.from({MODEL}(n).data.value))", name) for name in CHARTS}


def wait_for_change(page, before):
    for name, old in before.items():
        page.wait_for_function(
            f"([n, old]) => JSON.stringify(Array.from({MODEL}(n).data.value)) != old", arg=[name, old], timeout=10_000
        )


def test_the_widget_stands_in_a_box_and_is_linked_both_ways(page):
    box = page.locator(".jp-OutputArea-output .widget-vbox").first
    assert box.locator(".tk-line").count() == 1  # the explorer lies inside of the box
    state = box.locator("input[type=text]").first
    before = drawn(page)
    handle = box.locator(".noUi-handle").first
    handle.focus()
    page.keyboard.press("ArrowRight")  # interact to explorer
    wait_for_change(page, before)
    page.wait_for_function(f"() => /time=1:0:600/.test({MODEL}('view').value)", timeout=10_000)
    before = drawn(page)
    fold = page.get_by_role("button", name=re.compile("^Filters"))
    if fold.is_visible():
        fold.click()
    page.get_by_label(re.compile("^progression")).check()  # explorer to widgets
    wait_for_change(page, before)
    for _ in range(100):
        if "phase=progression" in state.input_value():
            break
        page.wait_for_timeout(100)
    assert "phase=progression" in state.input_value() and "time=1:0:600" in state.input_value()
