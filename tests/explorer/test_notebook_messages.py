"""Messages as a notebook sends them, without a browser: each change is answered at once, also several in one message.

Panel's own wrapper left the second change of a message waiting for the next one; the stale text of the view then
took back what had just been chosen.
"""

import panel.io.notebook
import pytest
from bokeh.document import Document

from tactical_kit.explorer.app import Screen
from tactical_kit.explorer.store import Store


class Notebook:
    """A screen displayed through a comm that only takes notes."""

    def __init__(self, screen):
        self.screen, self.sent, self.doc = screen, [], Document()
        comm = type("Comm", (), {"_comm": True, "id": "comm"})()
        screen.pane._render_model(self.doc, comm)
        self.doc.hold()  # as Panel does for a notebook

    def tell(self, *changes):
        """What `MimeRenderMixin._on_msg` does with a message of the page."""
        self.sent.clear()
        self.doc.hold()
        events = [
            {"kind": "ModelChanged", "model": {"id": model.id}, "attr": attr, "new": new}
            for model, attr, new in changes
        ]
        self.doc.apply_json_patch({"events": events}, setter="comm")
        self.doc.unhold()
        self.doc.hold()

    def names_sent(self):
        return [self.doc.get_model_by_id(i).name for message in self.sent for i in message]


@pytest.fixture
def notebook(match, monkeypatch):
    made = Notebook(Screen(Store(match)))
    monkeypatch.setattr(
        panel.io.notebook, "send",
        lambda comm, msg: made.sent.append([e["model"]["id"] for e in msg.content["events"] if "model" in e]),
    )  # fmt: skip
    return made


def columns(**values):
    return {"type": "map", "entries": [[k, v] for k, v in values.items()]}


def test_two_changes_in_one_message_are_both_answered(notebook):
    screen = notebook.screen
    notebook.tell(
        (screen.playback.want, "data", columns(chunk=[1], nonce=[1.0])),
        (screen.playback.report, "data", columns(t=[0.0], playing=[0])),
    )
    assert "playback-chunk" in notebook.names_sent()
    assert screen.store.view == "team=h;at=1:0"
    assert not notebook.doc.callbacks._held_events


def test_a_choice_is_not_taken_back_by_an_older_text(notebook):
    screen = notebook.screen
    notebook.tell((screen.playback.report, "data", columns(t=[0.0], playing=[0])))
    for i, phase in enumerate(["build-up", "progression", "final third"]):
        notebook.tell((screen.filters.own, "active", [i]))
        assert screen.store.selection.phases == {phase}
        sent = notebook.names_sent()
        assert {"words", "view"} <= set(sent)
        assert len(notebook.sent) == 2  # the charts, then the rest


def test_a_change_from_python_is_pushed(notebook):
    notebook.screen.store.change(phases={"progression"})
    assert "words" in notebook.names_sent()
    assert "filter-phases" in notebook.names_sent()
