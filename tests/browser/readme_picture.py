"""Remakes the picture of the README: the explorer of the demonstration match, as `tactical-kit explore` serves it.

python tests/browser/readme_picture.py
"""

import io
import re
import shutil
import subprocess
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

from tactical_kit.demo import demo_match_path

PICTURE = Path(__file__).parents[2] / "notebooks" / "images" / "explorer.png"
VIEW = "team=home;phase=build-up+progression;time=1:0:inf"
WIDTH, HEIGHT = 1280, 900
LARGEST = 300_000  # bytes
READY = """() => {
    const ball = window.Bokeh?.documents?.[0]?.get_model_by_name("playback-ball")
    return ball != null && Number.isFinite(ball.data.x[0])
}"""


def main():
    command = [sys.executable, "-m", "tactical_kit.cli", "explore", str(demo_match_path()), "--no-browser"]
    server = subprocess.Popen([*command, "--view", VIEW], stdout=subprocess.PIPE, text=True)
    try:
        url = next(found[0] for line in server.stdout if (found := re.search(r"http://127\.0\.0\.1:\d+/", line)))
        with sync_playwright() as play:
            browser = play.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"]
            )
            page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
            page.goto(url)
            page.wait_for_function(READY)
            page.get_by_role("button", name=re.compile("passes")).nth(3).click()  # a moment, so that the pitch is alive
            page.wait_for_timeout(2500)
            page.keyboard.press("Space")
            PICTURE.parent.mkdir(exist_ok=True)
            shot = page.screenshot(full_page=True)
            browser.close()
    finally:
        server.terminate()
        server.wait()
    # The page has few colours: a palette halves the file and nobody sees it.
    Image.open(io.BytesIO(shot)).convert("RGB").quantize(128, dither=Image.Dither.NONE).save(PICTURE, optimize=True)
    size = PICTURE.stat().st_size
    print(f"{PICTURE}: {size} bytes")
    return 0 if size < LARGEST else 1


if __name__ == "__main__":
    sys.exit(main())
