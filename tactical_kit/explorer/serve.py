"""The explorer as a page of this machine, without Jupyter."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import Any

import panel as pn
from bokeh.settings import settings

from tactical_kit.explorer.app import Explorer
from tactical_kit.explorer.store import Store
from tactical_kit.match import Match

__all__ = ["serve"]


def serve(
    match: Match,
    port: int = 0,
    open_browser: bool = True,
    view: str | None = None,
    threaded: bool = False,
    sheet: str | Path | None = None,
) -> Any:
    """Serve the explorer of a match on 127.0.0.1, to this machine only.

    Parameters
    ----------
    match : Match
        The match; every visit gets a state of its own.
    port : int, default 0
        0 takes a free one.
    open_browser : bool, default True
        Open the address in the default browser.
    view : str, optional
        A state as the text of `Explorer.view`.
    threaded : bool, default False
        Return at once with the server running in a thread; otherwise wait until it is interrupted.
    sheet : str or Path, optional
        The claim sheet that claims are added to; see `explore`.

    Returns
    -------
    Panel's server (threaded: a thread with `stop()`); its attribute `url` is the address.

    Raises
    ------
    TacticalKitError
        A view that cannot be read.
    """
    Store(match, view)  # phases and index are computed now, and a bad view is told before a page opens
    # Bokeh's own check of every model takes longer than making them; the tests look at the same models.
    settings.perform_document_validation = False
    port = port or _free_port()
    url = f"http://127.0.0.1:{port}/"
    if not threaded:
        print(f"Explorer of {match.home.name} v {match.away.name} at {url} (Ctrl-C ends it)", flush=True)
    server = pn.serve(
        lambda: Explorer(match, view, sheet).panel(), address="127.0.0.1", port=port, show=open_browser,
        threaded=threaded, title=f"{match.home.name} v {match.away.name}", verbose=False,
        websocket_origin=[f"127.0.0.1:{port}", f"localhost:{port}"],
    )  # fmt: skip
    server.url = url
    return server


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
