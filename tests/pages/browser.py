"""Headless Chromium with the network off, for tests of pages that are opened from a file."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

PHONE, SMALL_PHONE, DESKTOP = (390, 844), (360, 640), (1280, 900)
DRAWN_BY_SOFTWARE = ("--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--no-first-run")
QUIET = ("--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-quic")


def chromium() -> str:
    """Where it is; a test that needs it is skipped where it is not installed."""
    found = shutil.which("chromium")
    if found is None:
        pytest.skip("Chromium is not installed (Debian: apt-get install chromium)")
    return found


@contextmanager
def running() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=[*DRAWN_BY_SOFTWARE, *QUIET])
        yield browser
        browser.close()


@contextmanager
def opened(browser: Any, file: Path, size: tuple[int, int] = DESKTOP, **more: Any) -> Iterator[Any]:
    """A page from a file. At the end nothing may have been asked of the network, or been said on the console."""
    width, height = size
    touch = width < height
    context = browser.new_context(
        viewport={"width": width, "height": height}, offline=True, has_touch=touch, is_mobile=touch, **more
    )
    page, said, asked = context.new_page(), [], []
    page.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    yield page
    assert [each for each in said if not each.startswith(("info", "log", "debug"))] == []
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []
    context.close()


def drawn(page: Any) -> None:
    """After the frame that was asked for, however busy the machine is; what is around the header is there by then."""
    page.wait_for_function("!document.querySelector('.view.live') || document.querySelector('.view[data-whole]')")
    page.evaluate("() => new Promise((then) => requestAnimationFrame(() => requestAnimationFrame(then)))")


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
