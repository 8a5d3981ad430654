"""The main job done from the installed kit in an empty folder, as a newcomer without a screen would.

Run it in an empty folder with the `tactical-kit` to be tried first on the PATH.
"""

import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

PNG = b"\x89PNG\r\n\x1a\n"


def run(*command, expect=0):
    started = time.monotonic()
    done = subprocess.run(command, capture_output=True, text=True, timeout=300)
    print(f"$ {' '.join(command)}   [{done.returncode}, {time.monotonic() - started:.1f} s]")
    print("  " + "\n  ".join((done.stdout + done.stderr).strip().splitlines()[-4:]))
    assert done.returncode == expect, f"expected exit code {expect}"
    assert "Traceback" not in done.stderr
    return done.stdout


def serve(*command, seconds=60):
    """Start a server command, wait for its address, ask it for the page, end it as Ctrl-C would."""
    print(f"$ {' '.join(command)}")
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        address, end = None, time.monotonic() + seconds
        while address is None and time.monotonic() < end:
            line = process.stdout.readline()
            assert line, f"it ended with {process.wait()} before it printed an address"
            print("  " + line.rstrip())
            address = re.search(r"http://127\.0\.0\.1:(\d+)/\S*", line)
        page = urllib.request.urlopen(address[0], timeout=60)
        assert page.status == 200, page.status
        text = page.read().decode()
    finally:
        process.send_signal(signal.SIGINT)
        code = process.wait(30)
    assert code == 0, f"ended with {code}"
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", int(address[1]))) != 0, "the server still listens"
    print("  answered, and ended without a trace")
    return text


def main():
    assert not list(Path.cwd().iterdir()), "run this in an empty folder"
    import tactical_kit as tk

    assert "site-packages" in tk.__file__, tk.__file__
    print(f"tactical_kit from {tk.__file__}")
    run("tactical-kit", "--version")
    run("tactical-kit", "--help")

    assert "JupyterLab" in serve("tactical-kit", "--no-browser", "--folder", "mine")
    assert (Path("mine") / "01_explore_a_match.ipynb").is_file()
    serve("tactical-kit", "--no-browser", "--folder", "mine")  # a second time: nothing is laid anew

    run("tactical-kit", "demo", "made", "--seed", "3", "--rate", "5")
    run("tactical-kit", "check", "made")
    run("tactical-kit", "convert", "made", "open", "--to", "cdf")
    run("tactical-kit", "check", "open")
    run("tactical-kit", "convert", "open", "back")
    run("tactical-kit", "check", "nowhere", expect=2)
    serve("tactical-kit", "explore", "made", "--no-browser")

    started = time.monotonic()
    match = tk.demo_match()
    phases = tk.find_phases(match)
    print(f"{match!r}: {len(phases)} phases")
    for name, show in (
        ("network", tk.show_pass_network),
        ("progression", tk.show_progression),
        ("pressure", tk.show_pressure),
    ):
        show(match).save(f"{name}.png")
        data = Path(f"{name}.png").read_bytes()
        assert data.startswith(PNG) and len(data) > 10_000, name
        print(f"  {name}.png: {len(data)} bytes")
    print(f"load, phases, three charts, three pictures: {time.monotonic() - started:.1f} s")


if __name__ == "__main__":
    sys.exit(main())
