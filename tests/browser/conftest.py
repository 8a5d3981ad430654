"""A real browser, a real JupyterLab, and a record of what the page asked for and complained of."""

import os
import shutil
import threading
from dataclasses import dataclass, field
from urllib.parse import urlsplit

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
INSTALL = "apt-get install -y chromium"


def pytest_collection_modifyitems(items):
    here = os.path.dirname(__file__)
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.timeout(300))


@pytest.fixture(scope="session")
def chromium_path():
    found = next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        reason = f"no Chromium on this machine; on Debian it comes with: {INSTALL}"
        (pytest.fail if os.environ.get("CI", "").lower() == "true" else pytest.skip)(reason)
    return found


# One browser for this folder, closed with its last test: while playwright runs, asyncio.run() works nowhere else.
@pytest.fixture(scope="package")
def browser(chromium_path):
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium_path, args=FLAGS)
        yield opened
        opened.close()


@dataclass
class Watched:
    """A page and what went wrong on it; `assert_quiet` is the last line of every browser test."""

    page: object
    console_errors: list = field(default_factory=list)
    failed: list = field(default_factory=list)
    hosts: set = field(default_factory=set)
    allowed: tuple = ()

    def note_console(self, message):
        if message.type == "error":
            self.console_errors.append(message.text)

    def note_page_error(self, error):
        self.console_errors.append(f"uncaught: {error}")

    def note_request(self, request):
        parts = urlsplit(request.url)
        if parts.scheme in ("http", "https", "ws", "wss"):
            self.hosts.add(parts.hostname)

    def note_socket(self, socket):
        self.hosts.add(urlsplit(socket.url).hostname)

    def note_failed(self, request):
        if request.failure != "net::ERR_ABORTED":  # the page itself gave it up, on leaving or for a newer one
            self.failed.append(f"{request.method} {request.url}: {request.failure}")

    def note_response(self, response):
        if response.status >= 400 and not any(part in response.url for part in self.allowed):
            self.failed.append(f"{response.request.method} {response.url}: {response.status}")

    def assert_quiet(self):
        assert self.failed == []
        assert self.console_errors == []
        assert self.hosts <= {"127.0.0.1"}


def _opener(browser):
    contexts = []

    def open_it(url, width=1280, height=900, allowed=()):
        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = context.new_page()
        watched = Watched(page, allowed=allowed)
        page.on("console", watched.note_console)
        page.on("pageerror", watched.note_page_error)
        page.on("request", watched.note_request)
        page.on("websocket", watched.note_socket)
        page.on("requestfailed", watched.note_failed)
        page.on("response", watched.note_response)
        page.goto(url)
        return watched

    yield open_it
    for context in contexts:
        context.close()


@pytest.fixture
def open_page(browser):
    """A function (url, width, height) -> Watched; every page it opened is closed after the test."""
    yield from _opener(browser)


@pytest.fixture(scope="module")
def open_page_for_all(browser):
    """The same for a page that all tests of a module share."""
    yield from _opener(browser)


def quiet_environment(home):
    """An environment whose JupyterLab knows nothing of the user's own settings and open tabs."""
    folders = {
        name: str(home / name.lower()) for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR")
    }
    return {**os.environ, **folders, "HOME": str(home), "IPYTHONDIR": str(home / "ipython")}


@pytest.fixture(scope="package")
def lab_folder(tmp_path_factory):
    """The starter files as a user gets them, in a new folder."""
    from tactical_kit.starter import lay_starter

    return lay_starter(tmp_path_factory.mktemp("lab") / "notebooks").folder


@pytest.fixture(scope="package")
def lab(lab_folder, tmp_path_factory, chromium_path):
    """JupyterLab on the starter files, started by the kit itself, on a free port of 127.0.0.1."""
    from tactical_kit.lab import start_lab
    from tactical_kit.starter import FIRST_NOTEBOOK

    home = tmp_path_factory.mktemp("home")
    server = start_lab(lab_folder, FIRST_NOTEBOOK, run=True, environ=quiet_environment(home))
    yield server
    server.stop()


class ServedPage:
    """A Panel app served to this machine from a thread; `url` is its address."""

    def __init__(self, make):
        import panel as pn

        from tactical_kit.lab import free_port

        port = free_port()
        self.url = f"http://127.0.0.1:{port}/"
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(pn, make, port), daemon=True)
        self._thread.start()
        assert self._ready.wait(30), "the page was not served within 30 s"

    def _run(self, pn, make, port):
        import asyncio

        asyncio.set_event_loop(asyncio.new_event_loop())
        self._server = pn.io.server.get_server(
            make, port=port, address="127.0.0.1", websocket_origin=[f"127.0.0.1:{port}"], start=False
        )
        self._server.start()
        self._server.io_loop.add_callback(self._ready.set)
        self._server.io_loop.start()

    def stop(self):
        loop = self._server.io_loop
        loop.add_callback(self._server.stop, wait=False)
        loop.add_callback(loop.stop)
        self._thread.join(10)


@pytest.fixture
def serve_page():
    """A function (make) -> address: serves what `make()` returns to each visitor until the test is over."""
    served = []

    def serve(make):
        served.append(ServedPage(make))
        return served[-1].url

    yield serve
    for page in served:
        page.stop()
