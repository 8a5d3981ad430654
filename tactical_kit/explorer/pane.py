"""What Panel needs to show an explorer offline and quickly, in JupyterLab and as a page."""

from __future__ import annotations

import functools
from typing import Any

import panel as pn

__all__ = ["QuickPane", "prepare_notebook"]


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


class QuickPane(pn.pane.Bokeh):
    """A pane that does not wait 50 ms before it tells Python of a change in a notebook.

    The page asks one question at a time anyway (`brush.js`), so nothing piles up.
    """

    def _render_mimebundle(self, model: Any, doc: Any, comm: Any, location: Any = None) -> Any:
        from panel.io.notebook import render_mimebundle
        from panel.models.comm_manager import CommManager

        # As in panel.viewable.MimeRenderMixin, but for `debounce`.
        ref = model.ref["id"]
        manager = CommManager(comm_id=comm.id, plot_id=ref, debounce=0)
        client_comm = pn.state._comm_manager.get_client_comm(
            on_msg=functools.partial(self._on_msg, ref, manager),
            on_error=functools.partial(self._on_error, ref),
            on_stdout=functools.partial(self._on_stdout, ref),
            on_open=lambda _: comm.init(),
        )
        self._comms[ref] = (comm, client_comm)
        manager.client_comm_id = client_comm.id
        return render_mimebundle(model, doc, comm, manager, location, resources="inline" if pn.config.inline else "cdn")
