"""The page of a spec that is watched: it follows with the camera where it was, and marks what is not the file."""

from __future__ import annotations

from typing import Any

import pytest

from headergen.commands.watch import page_of
from headergen.jobs.watched import HOST, Board, WatchedState, served
from headergen.pipeline import check
from tests.cli.watching import SPEC


@pytest.fixture(scope="module")
def states(tmp_path_factory: pytest.TempPathFactory) -> list[WatchedState]:
    path = tmp_path_factory.mktemp("watched") / "ten.yaml"
    path.write_text(SPEC, encoding="utf-8")
    checked = check(path)
    said = ((), ("Primary 1 is 10.0 mm shorter: 410.0 mm.",))
    return [WatchedState(k + 1, said[k], lambda k=k: page_of(path, checked, k + 1, said[k])) for k in range(2)]  # type: ignore[misc]


def test_it_follows_with_the_camera_where_it_was(browser: Any, states: list[WatchedState]) -> None:
    board = Board()
    board.show(states[0])
    server = served(board, 0)
    try:
        page = browser.new_context().new_page()
        page.goto(f"http://{HOST}:{server.server_port}/")
        page.locator(".view canvas").focus()
        page.keyboard.press("ArrowLeft")
        page.keyboard.press("+")
        page.get_by_label("Inches").check()
        page.wait_for_timeout(150)
        camera = page.evaluate("headerView.camera()")
        board.complaint = "ten.yaml:3:1: collectors is missing"
        page.get_by_text("collectors is missing").wait_for()
        assert page.get_by_text("Not the file as it is now").is_visible(), "the last good view stays, marked"
        board.show(states[1])
        page.get_by_text("Primary 1 is 10.0 mm shorter").wait_for()
        page.wait_for_function("window.headerView && !document.documentElement.classList.contains('stale')")
        now = page.evaluate("headerView.camera()")
        for end in ("from", "to"):
            assert now[end] == pytest.approx(camera[end], abs=0.01)
        assert page.get_by_label("Inches").is_checked()
        with page.context.expect_page() as other:
            page.get_by_role("link", name="Open the state before").click()
        other.value.get_by_text("This is the state before").wait_for()
    finally:
        server.shutdown()
        server.server_close()
    page.get_by_text("The watch has ended").wait_for()
