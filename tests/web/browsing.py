"""A real browser at a bench that really runs: for the tests that walk the pages."""

import os
import shutil
import socket
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageDraw
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import expect, sync_playwright

from ironlace.photographs import strip_sheet
from ironlace.web import create_app

SCREENSHOTS = Path(__file__).parents[2] / "screenshots"
DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 90_000
"""How long a page may take before a test gives it up: a busy machine is slow, not wrong."""
_NAMES = ("chromium", "chromium-browser", "google-chrome")
_QUIET = (
    "--no-sandbox",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def browser():
    """Open a Chromium of the system; skip without one, but never where CI must have one."""
    found = next((path for name in _NAMES if (path := shutil.which(name))), None)
    if found is None:
        says = "no Chromium on this machine: install one to walk the pages"
        if os.environ.get("CI") == "true":
            pytest.fail(says)
        pytest.skip(says)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=list(_QUIET))
        new_context = opened.new_context

        def patient_context(**options):
            context = new_context(**options)
            context.set_default_timeout(PATIENCE_MS)
            return context

        opened.new_context = patient_context
        expect.set_options(timeout=PATIENCE_MS)
        try:
            yield opened
        finally:
            opened.close()


def in_first_screen(page, *found):
    """Assert that all of these lie within the window, without anything being scrolled."""
    # until its own letters have come a page is set in others, which may be wider
    page.evaluate("document.fonts.ready.then(() => window.scrollTo(0, 0))")
    size = page.viewport_size
    for one in found:
        box = one.bounding_box()
        assert box, f"{one} is not on the page"
        assert box["x"] >= 0 and box["x"] + box["width"] <= size["width"] + 1, (one, box)
        assert box["y"] >= 0 and box["y"] + box["height"] <= size["height"] + 1, (one, box)


@contextmanager
def serving(folder, **options):
    """Serve a workshop on a free port, with a worker; yields its address."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    app = create_app(folder, port=port, **options)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        while not server.started:
            assert thread.is_alive(), "the bench did not start"
            time.sleep(0.02)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=20)
        listening.close()


def photographs(folder, room):
    """Three photographs of a machine: two plain views, one of ornament with the strip round it."""
    paths = []
    for name, seed in (("bed-as-found.jpg", 1), ("number.jpg", 2)):
        rng = np.random.default_rng(seed)
        ground = Image.new("RGB", (1200, 800), (24, 21, 19))
        draw = ImageDraw.Draw(ground)
        draw.rounded_rectangle((160, 420, 1040, 640), 60, fill=(40, 36, 33))
        draw.rounded_rectangle((300, 180, 420, 460), 40, fill=(46, 41, 37))
        draw.rounded_rectangle((300, 180, 900, 290), 50, fill=(52, 46, 41))
        for x in range(240, 1000, 90):
            draw.arc((x, 470, x + 80, 590), 20 + seed * 30, 300, fill=(190, 150, 74), width=5)
        noise = rng.normal(0, 4, (800, 1200, 3))
        worn = np.clip(np.asarray(ground) + noise, 0, 255).astype(np.uint8)
        # larger than the copy shown first, as a camera's are
        Image.fromarray(worn).resize((2400, 1600)).save(folder / name, quality=90)
        paths.append(folder / name)
    rng = np.random.default_rng(5)
    ornament = room.scrollwork(rng, (40, 30, 120, 90), scrolls=4)
    shot = room.Shot(
        width=1500, height=1050, focal_px=1650, aim_mm=(100.0, 65.0), distance_mm=260.0
    )
    image = room.photograph(ornament, strip_sheet("wrap"), shot, rng)
    Image.fromarray(image).save(folder / "ornament.png")
    return [*paths, folder / "ornament.png"]


_TRIES = 4
"""How often a picture is asked for: a browser short of breath now and then cannot paint one."""


def keep(page, name):
    """Keep a screenshot of the whole page, for people to look at: not where nobody does.

    Where the browser will not paint it after some tries, that is printed: what the page does
    is asserted elsewhere, and is not judged by this.
    """
    if os.environ.get("CI") == "true":
        return
    SCREENSHOTS.mkdir(exist_ok=True)
    page.evaluate(
        "Promise.allSettled([...document.images].map((image) => {"
        " image.loading = 'eager'; return image.decode(); }))"
    )
    for attempt in range(_TRIES):
        try:
            page.screenshot(path=SCREENSHOTS / f"{name}.png", full_page=True)
            return
        except PlaywrightError as error:
            if "Unable to capture screenshot" not in str(error):
                raise
            page.wait_for_timeout(500 * 2**attempt)
    print(f"The browser painted no picture '{name}' in {_TRIES} tries.", file=sys.stderr)


def violations(page):
    """What axe finds amiss; what it finds well is not asked for, which takes as long again."""
    return Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]


def amiss(page, name):
    """What axe finds, and whether the page is wider than its window."""
    found = [f"{name}: {v['id']} {[n['target'] for n in v['nodes'][:2]]}" for v in violations(page)]
    wider = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return found + ([f"{name}: {wider} px too wide"] if wider > 0 else [])
