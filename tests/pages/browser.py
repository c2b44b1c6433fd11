"""Headless Chromium with the network off, for tests of pages that are opened from a file."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

PHONE, SMALL_PHONE, DESKTOP = (390, 844), (360, 640), (1280, 900)
DRAWN_BY_SOFTWARE = ("--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-first-run")
HANGS = 300  # seconds until a test gives up waiting, however busy the machine is
QUIET = ("--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-quic")


def chromium() -> str:
    """Where it is; a test that needs it is skipped where it is not installed."""
    found = shutil.which("chromium")
    if found is None:
        pytest.skip("Chromium is not installed (Debian: apt-get install chromium)")
    return found


@contextmanager
def running() -> Iterator[Any]:
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=1000 * HANGS)
    with sync_playwright() as driver:
        launched = driver.chromium.launch(executable_path=chromium(), args=[*DRAWN_BY_SOFTWARE, *QUIET])
        yield launched
        launched.close()


@contextmanager
def page_of_its_own(browser: Any, **more: Any) -> Iterator[Any]:
    """A page of a context of its own."""
    context = browser.new_context(**more)
    context.set_default_timeout(1000 * HANGS)
    try:
        yield context.new_page()
    finally:
        context.close()


@contextmanager
def opened(browser: Any, file: Path, size: tuple[int, int] = DESKTOP, **more: Any) -> Iterator[Any]:
    """A page from a file. At the end nothing may have been asked of the network, or been said on the console."""
    width, height = size
    touch = width < height
    said, asked = list[str](), list[str]()
    seen = {"viewport": {"width": width, "height": height}, "has_touch": touch, "is_mobile": touch}
    with page_of_its_own(browser, offline=True, **seen, **more) as page:
        page.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(file.as_uri())
        yield page
        assert [each for each in said if not each.startswith(("info", "log", "debug"))] == []
        assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []


def drawn(page: Any) -> None:
    """After the frame that was asked for, however busy the machine is; what is around the header is there by then."""
    page.wait_for_function("!document.querySelector('.view.live') || document.querySelector('.view[data-whole]')")
    page.evaluate("() => new Promise((then) => requestAnimationFrame(() => requestAnimationFrame(then)))")


def once(page: Any, read: Callable[[Any], Any], holds: Callable[[Any], bool]) -> Any:
    """What is read from a page, again after every frame until it holds: what a click does may show later.

    The last that was read if it never holds, for the test to tell what is wrong with it.
    """
    end = time.monotonic() + HANGS
    while not holds(found := read(page)) and time.monotonic() < end:
        drawn(page)
    return found


PAINTED = """() => {
  const canvas = document.querySelector(".view canvas");
  const copy = document.createElement("canvas");
  copy.width = canvas.width; copy.height = canvas.height;
  const pen = copy.getContext("2d");
  pen.drawImage(canvas, 0, 0);
  const points = pen.getImageData(0, 0, copy.width, copy.height).data;
  const seen = new Set();
  let painted = 0;
  for (let k = 0; k < points.length; k += 4) {
    if (points[k + 3] > 250) { painted += 1; seen.add(points[k] >> 3); }
  }
  return { share: painted / (points.length / 4), tones: seen.size };
}"""


def painted(page: Any) -> dict[str, float]:
    """The share of the view that something solid covers, and in how many tones. The view's ground is see-through."""
    drawn(page)
    return dict(page.evaluate(PAINTED))
