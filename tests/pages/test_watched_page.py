"""The page of a spec that is watched: it follows with the camera where it was, and marks what is not the file."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import expect

from headergen.commands.watch import page_of
from headergen.jobs.watched import HOST, Board, WatchedState, served
from headergen.pipeline import check
from tests.cli.watching import SPEC
from tests.pages.browser import drawn, once, page_of_its_own


@pytest.fixture(scope="module")
def states(tmp_path_factory: pytest.TempPathFactory) -> list[WatchedState]:
    path = tmp_path_factory.mktemp("watched") / "ten.yaml"
    path.write_text(SPEC, encoding="utf-8")
    checked = check(path)
    said = ((), ("Primary 1 is 10.0 mm shorter: 410.0 mm.",))
    return [WatchedState(k + 1, said[k], lambda k=k: page_of(path, checked, k + 1, said[k])) for k in range(2)]  # type: ignore[misc]


@pytest.mark.slow
def test_it_follows_with_the_camera_where_it_was(browser: Any, states: list[WatchedState]) -> None:
    board = Board()
    board.show(states[0])
    server = served(board, 0)
    with page_of_its_own(browser) as page:
        try:
            page.goto(f"http://{HOST}:{server.server_port}/")
            camera = turned(page)
            page.get_by_label("Inches").check()
            board.complaint = "ten.yaml:3:1: collectors is missing"
            page.get_by_text("collectors is missing").wait_for()
            expect(page.get_by_text("Not the file as it is now"), "the last good view stays, marked").to_be_visible()
            board.show(states[1])
            page.get_by_text("Primary 1 is 10.0 mm shorter").wait_for()
            # the page of the new state stands as the old one did by the time that it has asked for the next
            expect(page.locator("html")).not_to_have_class(re.compile("stale"))
            page.wait_for_function(STANDS, arg=camera)
            expect(page.get_by_label("Inches")).to_be_checked()
            with page.context.expect_page() as other:
                page.get_by_role("link", name="Open the state before").click()
            other.value.get_by_text("This is the state before").wait_for()
        finally:
            server.shutdown()
            server.server_close()
        page.get_by_text("The watch has ended").wait_for()


STANDS = """(there) => window.headerView && ["from", "to"].every((end) =>
  headerView.camera()[end].every((value, k) => Math.abs(value - there[end][k]) < 0.01))"""


def turned(page: Any) -> Any:
    """The camera after two keys, which are drawn in frames of their own."""

    def read(page: Any) -> Any:
        drawn(page)
        return page.evaluate("headerView.camera()")

    page.locator(".view canvas").focus()
    camera = read(page)
    for key in ("ArrowLeft", "+"):
        page.keyboard.press(key)
        before = camera
        camera = once(page, read, lambda found, before=before: found != before)
        assert camera != before
    return camera
