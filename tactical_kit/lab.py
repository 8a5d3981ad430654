"""JupyterLab on a folder of this machine, for this machine alone: no news, no update look-ups, loopback only."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import tempfile
import time
import webbrowser
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote, urlsplit

from tactical_kit.errors import TacticalKitError

__all__ = ["LabServer", "free_port", "has_screen", "start_lab", "wait_until_listening"]

_SETTINGS = Path(__file__).resolve().parent / "_lab"


def has_screen(environ: Mapping[str, str] | None = None, platform: str = sys.platform) -> bool:
    """Tell whether a browser window can be opened here.

    Parameters
    ----------
    environ : mapping, optional
        The environment; that of the process by default.
    platform : str
        As `sys.platform`.

    Returns
    -------
    bool
        False over SSH without a forwarded display, on a Linux machine without a display, and where Python
        knows no browser.

    >>> has_screen({}, "linux"), has_screen({"SSH_CONNECTION": "a b"}, "darwin")
    (False, False)
    """
    environ = os.environ if environ is None else environ
    display = bool(environ.get("DISPLAY") or environ.get("WAYLAND_DISPLAY"))
    if (environ.get("SSH_CONNECTION") or environ.get("SSH_TTY")) and not display:
        return False
    if platform not in ("win32", "darwin", "cygwin") and not display:
        return False
    try:
        webbrowser.get()
    except webbrowser.Error:
        return False
    return True


@dataclass
class LabServer:
    """A running JupyterLab.

    Parameters
    ----------
    process : Popen
        The server.
    url : str
        Its address on this machine, without a path, ending in "/".
    token : str
        What a browser must show to be let in.
    """

    process: subprocess.Popen[bytes]
    url: str
    token: str

    def address(self, notebook: str = "") -> str:
        """Return the address of a notebook, or of the file list, token included."""
        path = f"lab/tree/{quote(notebook)}" if notebook else "lab"
        return f"{self.url}{path}?token={self.token}"

    def stop(self, patience_s: float = 10.0) -> None:
        """Stop the server and its kernels; returns when it is gone."""
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(patience_s)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()


def free_port() -> int:
    """Return the number of a port of 127.0.0.1 that nothing listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until_listening(url: str, patience_s: float = 30.0) -> None:
    """Return once something listens at an address of this machine; raises `TacticalKitError` if nothing does."""
    parts = urlsplit(url)
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        with socket.socket() as probe:
            if probe.connect_ex((parts.hostname or "127.0.0.1", parts.port or 80)) == 0:
                return
        time.sleep(0.05)
    raise TacticalKitError(f"nothing answers at {url} after {patience_s:g} s.")


def start_lab(
    folder: str | Path,
    notebook: str = "",
    *,
    browser: bool = False,
    run: bool = False,
    port: int = 0,
    environ: Mapping[str, str] | None = None,
    log: str | Path | None = None,
    patience_s: float = 60.0,
) -> LabServer:
    """Start JupyterLab on a folder and return once it answers.

    Parameters
    ----------
    folder : path
        What the file list shows.
    notebook : str
        Notebook to open, relative to the folder.
    browser : bool, default False
        Open a browser window on it.
    run : bool, default False
        Run the notebook once when it opens: only for one that is known to be the kit's own.
    port : int, default 0
        0 takes any free port.
    environ : mapping, optional
        Environment of the server and its kernels; that of the process by default.
    log : path, optional
        Where the server's own lines go; by default nowhere but into an error.
    patience_s : float, default 60
        How long to wait for it, s.

    Raises
    ------
    TacticalKitError
        It ended, or did not answer in time; the last lines it wrote are in the message.

    Notes
    -----
    The server listens on 127.0.0.1 alone and asks for a token.  The settings that the kit lays under the
    user's own (the user's win) keep JupyterLab from asking about news and from looking for updates.
    """
    environ = dict(os.environ if environ is None else environ)
    paths = [str(_SETTINGS), environ.get("JUPYTER_CONFIG_PATH", "")]
    environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join(p for p in paths if p)
    command = [sys.executable, "-m", "jupyterlab"]
    if notebook:
        command.append(str(Path(folder) / notebook))
    command += [
        f"--ServerApp.root_dir={Path(folder).resolve()}",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        f"--ServerApp.open_browser={browser}",
        "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.handlers.announcements.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
    ]
    if run and notebook:
        command += [
            f"--LabApp.extra_labextensions_path={_SETTINGS / 'labextensions'}",
            f"--ServerApp.tornado_settings={{'page_config_data': {{'tacticalKitRun': {notebook!r}}}}}",
        ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    sink = Path(log).open("w+b") if log else tempfile.TemporaryFile()  # noqa: SIM115 (the child keeps it)
    with sink:
        # A group of its own: Ctrl-C reaches the kit, which then stops the server in good order.
        process = subprocess.Popen(
            command, env=environ, stdin=subprocess.DEVNULL, stdout=sink, stderr=subprocess.STDOUT,
            start_new_session=True,
        )  # fmt: skip
        try:
            info = _wait_for(process, environ, patience_s)
        except BaseException:
            process.kill()
            process.wait()
            raise
        if info is None:
            sink.seek(0)
            tail = sink.read().decode(errors="replace").strip().splitlines()[-8:]
            raise TacticalKitError("JupyterLab did not start. Its last lines were:\n  " + "\n  ".join(tail))
    return LabServer(process, f"http://127.0.0.1:{info['port']}{info['base_url']}", str(info["token"]))


def _wait_for(process: subprocess.Popen[bytes], environ: Mapping[str, str], patience_s: float) -> dict | None:
    """The server's own note of its port and token, or None if it ended or was too slow."""
    note = Path(_runtime_folder(environ)) / f"jpserver-{process.pid}.json"
    end = time.monotonic() + patience_s
    while time.monotonic() < end and process.poll() is None:
        if note.is_file():
            try:
                return dict(json.loads(note.read_text(encoding="utf-8")))
            except ValueError:
                pass  # half written
        time.sleep(0.1)
    if process.poll() is None:
        process.kill()
    process.wait()
    return None


def _runtime_folder(environ: Mapping[str, str]) -> str:
    # Asked of a process with the server's environment: the rules differ by system and by variable.
    code = "from jupyter_core.paths import jupyter_runtime_dir as d; print(d())"
    found = subprocess.run([sys.executable, "-c", code], env=dict(environ), capture_output=True, text=True, check=True)
    return found.stdout.strip().splitlines()[-1]
