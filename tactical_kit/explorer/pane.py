"""What Panel needs to show an explorer offline and quickly in JupyterLab."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import panel as pn

__all__ = ["QUICK_COMM_JS", "LivePane", "prepare_notebook", "sending"]

# In a notebook Panel's page tells Python of every change of the document, those that Python itself has just made
# included: each update would travel back in full, and be set again.  Bokeh marks them with `sync: false`; here
# they are dropped.  Once the line stands, a change need not wait 50 ms either: one question is asked at a time.
#
# The page holds its changes back until Python has answered the one before, and looks at the clock only when another
# one comes.  While the kernel still opens its end of the line an answer can be lost, and what the user does in those
# first seconds would wait for ever: what has waited a second is sent.
QUICK_COMM_JS = """
for (const manager of cb_obj.document.roots()) {
  if (!manager.type.endsWith("CommManager") || manager.__no_echo) { continue }
  const tell = manager._document_changed.bind(manager)
  manager._document_changed = (event) => { if (event.sync !== false) { tell(event) } }
  manager.__no_echo = true
  setTimeout(() => manager.setv({debounce: 0}, {silent: true}), 3000)
  let since = 0
  const watch = setInterval(() => {
    if (manager.document == null) { clearInterval(watch); return }
    if (manager._event_buffer.length == 0) { since = 0; return }
    if (since == 0) { since = Date.now() }
    if (Date.now() - since >= 1000) { since = 0; manager.on_ack({metadata: {msg_type: "Ready"}}) }
  }, 200)
}
"""


def prepare_notebook() -> None:
    """Load what the browser needs into the notebook, from this machine alone; does nothing outside of one.

    Without it a cell stays blank where there is no network: the pieces would be asked for from outside.
    """
    if _in_kernel():
        pn.extension(inline=True)


def _in_kernel() -> bool:
    try:
        from IPython import get_ipython
    except ImportError:
        return False
    shell = get_ipython()
    return shell is not None and getattr(shell, "kernel", None) is not None


@contextmanager
def sending(doc: Any, push: Callable[[], None]) -> Iterator[None]:
    """Gather the changes of a document within the block and push them at its end, then leave it as it was found.

    A document that is held for good neither sends nor calls back: Panel's own wrapper leaves it held after the
    first of several changes that arrive together, and the others wait until the next message.
    """
    free = doc is not None and doc.callbacks.hold_value is None
    if free:
        doc.hold("combine")
    try:
        yield
    finally:
        push()
        if free:
            doc.unhold()


class LivePane(pn.pane.Bokeh):
    """A pane whose Python callbacks reach the browser of a notebook, also when several come in one message."""

    @classmethod
    def _property_callback_wrapper(cls, cb: Any, doc: Any, comm: Any, callbacks: Any) -> Any:
        def wrapped(attr: str, old: Any, new: Any) -> None:
            with sending(doc, lambda: _push(doc, comm)):
                cb(attr, old, new)

        return wrapped

    @classmethod
    def _event_callback_wrapper(cls, cb: Any, doc: Any, comm: Any, callbacks: Any) -> Any:
        def wrapped(event: Any) -> None:
            with sending(doc, lambda: _push(doc, comm)):
                cb(event)

        return wrapped


def _push(doc: Any, comm: Any) -> None:
    from panel.io.notebook import push

    push(doc, comm)
