"""The bench on a phone: its figures are those of shop.json, its ticks stay, and it needs no scripts and no storage."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import lxml.html
import pytest
from playwright.sync_api import expect

from headergen.checks.sign_off import sign_off
from headergen.model import Header, Shop
from headergen.model.sign_off import SignOff
from headergen.outputs.shop import shop_data
from headergen.outputs.shop.cautions import CAUTIONS
from headergen.outputs.shop.screens import write_screens
from headergen.pipeline import settle
from headergen.shop.stage import shop_of
from headergen.words.numbers import in_units
from tests.demos import checked_once, planned_once
from tests.outputs.sample_result import header as sample_header
from tests.pages.browser import PHONE, SMALL_PHONE, opened
from tests.shop.test_bending import BENDER

SPEC = Path(__file__).parents[2] / "specs" / "bogbean.yaml"
MOST_BYTES = 400_000
AT_HAND = """() => [...document.querySelectorAll(".screen.shown a, .screen.shown label, .screen.shown button")]
  .map(each => [each.innerText, each.getBoundingClientRect().height, each.getBoundingClientRect().width])"""
TOO_WIDE = """() => [...document.querySelectorAll(".screen.shown .tile dd")]
  .filter(each => each.scrollWidth > each.clientWidth).map(each => each.innerText)"""
# of each part of a screen, shown by its tab, if there is one
PARTS = """() => { const screen = document.querySelector(".screen.shown");
  const all = which => [...screen.querySelectorAll(which)];
  const tabs = all("[role=tab]"), parts = all(".part");
  return parts.map((part, k) => { tabs[k]?.click(); return {
    seen: part.offsetHeight ? parts.filter(each => each.offsetHeight).length : 0,
    tabs: tabs.filter(each => each.getAttribute("aria-selected") === "true").length,
    height: document.documentElement.scrollHeight,
    ends: part.getBoundingClientRect().bottom, bar: screen.querySelector("nav").getBoundingClientRect().top,
    wide: all(".tile dd").filter(each => each.scrollWidth > each.clientWidth).map(each => each.innerText) }; }); }"""
Job = tuple[Header, Shop, SignOff]


@pytest.fixture(scope="module")
def job() -> Job:
    result = checked_once("bogbean").result
    return result.header, planned_once("bogbean"), replace(sign_off(result, "bcdfghjkmnpq"), clear=True)


def written(job: Job, folder: Path, units: str = "mm", **facts: Any) -> tuple[Path, Any]:
    """The page, and what shop.json says beside it."""
    header, shop, said = job
    header = replace(header, draft=replace(header.draft, units=units))
    file = folder / "shop.html"
    write_screens(file, header, shop, replace(said, **facts), "1.0")
    return file, json.loads(json.dumps(shop_data(header, shop, "1.0")))


@pytest.fixture(scope="module")
def page_file(job: Job, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(job, tmp_path_factory.mktemp("shop"))[0]


def value_of(data: Any, pointer: str) -> Any:
    for key in pointer.strip("/").split("/"):
        data = data[int(key)] if key.isdigit() else data[key]
    return data


def figures_of(file: Path) -> list[tuple[str, str]]:
    """Where each figure says it stands in shop.json, and how it is written."""
    found = lxml.html.parse(str(file)).xpath("//*[contains(@class, 'figure')]")
    return [(each.get("data-at"), each.text_content()) for each in found]


def inches_on_a_tape(value: float) -> str:
    """By halving, while both are even."""
    top, bottom = round(value / 25.4 * 64), 64
    while top % 2 == 0 and bottom > 1:
        top, bottom = top // 2, bottom // 2
    if bottom == 1:
        return str(top)
    return f"{top // bottom}-{top % bottom}/{bottom}" if top > bottom else f"{top}/{bottom}"


@pytest.mark.parametrize("units", ["mm", "in"])
def test_every_figure_stands_in_shop_json(job: Job, tmp_path: Path, units: str) -> None:
    file, data = written(job, tmp_path, units)
    found = figures_of(file)
    assert len(found) > 100
    for at, said in found:
        value = value_of(data, at)
        if at.endswith("arc_mm"):
            wanted = {in_units(value, "mm"), inches_on_a_tape(value)}
        elif at.endswith("level_deg") or ("/bench/" in at and at.endswith("lean_deg")):
            wanted = {in_units(value, "mm", 1, "+")}
        elif at.endswith("_deg"):
            wanted = {in_units(abs(value), "mm")}
        elif at.endswith("_mm"):
            wanted = {in_units(value, units)}
        else:
            wanted = {f"{value:g}"}
        assert said in wanted, at


def test_no_mark_of_a_tube_is_left_out(job: Job, tmp_path: Path) -> None:
    """Turns three ways, saw lines, heights, and the finished tube."""
    file, data = written(job, tmp_path)
    found = {at for at, _ in figures_of(file)}
    wanted = set()
    for r, run in enumerate(data["runs"]):
        for t, mark in enumerate(run["turns"]):
            if not mark["comes_of_closing"]:
                wanted |= {f"/runs/{r}/turns/{t}/{key}" for key in ("arc_mm", "angle_deg", "level_deg")}
        keys = ("turn_deg", "slide_mm", "kink_deg", "joint_spare_mm", "end_spare_mm")
        wanted |= {f"/runs/{r}/by_hand/closing/{key}" for key in keys}
        for b in range(len(run["bench"])):
            keys = ("along_mm", "offset_left_mm", "height_mm", "lean_deg")
            wanted |= {f"/runs/{r}/bench/{b}/{key}" for key in keys}
        for p, piece in enumerate(run["pieces"]):
            for m, mark in enumerate(piece["saw"]):
                is_arc = mark["chord_outside_mm"] is not None
                arc = ("outside_mm", "middle_mm", "inside_mm", "chord_outside_mm", "angle_deg")
                keys = arc if is_arc else ("middle_mm", "saw_at_mm")
                wanted |= {f"/runs/{r}/pieces/{p}/saw/{m}/{key}" for key in keys}
        wanted |= {f"/runs/{r}/finished/{key}" for key in ("out_mm", "x_mm", "y_mm", "lean_deg")}
    assert wanted - found == set()


def test_a_tube_from_the_bender_has_its_bends(job: Job, tmp_path: Path) -> None:
    """Feed, rotation and the angle to bend to for each of them, and the finished tube; there is nothing to join."""
    _, _, facts = job
    header = replace(sample_header(), draft=replace(sample_header().draft, bender=BENDER))
    file, data = written((header, shop_of(header), facts), tmp_path)
    found = dict(figures_of(file))
    assert data["runs"] == [] and len(data["bent"]) == 2
    for k, tube in enumerate(data["bent"]):
        assert found[f"/bent/{k}/blank_mm"] == f"{tube['blank_mm']:.1f}"
        assert found[f"/bent/{k}/finished/out_mm"] == f"{tube['finished']['out_mm']:.1f}"
        for b, row in enumerate(tube["bends"]):
            assert found[f"/bent/{k}/bends/{b}/feed_mm"] == f"{row['feed_mm']:.1f}"
            assert found[f"/bent/{k}/bends/{b}/rotation_deg"] == f"{row['rotation_deg']:+.1f}"
            assert found[f"/bent/{k}/bends/{b}/bend_to_deg"] == f"{row['bend_to_deg']:.1f}"


def test_a_direction_is_that_of_its_sign(job: Job, tmp_path: Path) -> None:
    """Positive is clockwise, seen looking from the flange along the tube."""
    file, data = written(job, tmp_path)
    tiles = lxml.html.parse(str(file)).xpath("//span[contains(@data-at, '/turns/')][contains(@data-at, 'angle_deg')]")
    set_by_hand = [mark for run in data["runs"] for mark in run["turns"] if not mark["comes_of_closing"]]
    assert len(tiles) == len(set_by_hand) > 4
    for tile in tiles:
        way = tile.getparent().getprevious().text_content()
        assert way == ("clockwise" if value_of(data, tile.get("data-at")) > 0 else "counter-clockwise")


def test_it_is_small_and_has_nobody_elses_code(page_file: Path) -> None:
    text = page_file.read_text(encoding="utf-8")
    assert len(text) < MOST_BYTES
    for word in ("THREE", "@license", "http:", "https:", "@import"):
        assert word not in text
    assert re.findall(r"url\([^#]", text) == [], "only what the page has itself"


def test_not_clear_stands_on_every_screen(job: Job, tmp_path: Path) -> None:
    for clear in (True, False):
        file, _ = written(job, tmp_path, clear=clear)
        screens = lxml.html.parse(str(file)).xpath("//section")
        assert len(screens) > 10
        assert all(("NOT CLEARED" in each.text_content()) is not clear for each in screens)
        for caution in CAUTIONS:
            assert caution in screens[0].text_content()


def turned_to(tab: Any) -> None:
    """What a tap does comes after the tap has answered."""
    tab.tap()
    expect(tab).to_have_attribute("aria-selected", "true")


def test_one_screen_at_a_time_for_a_glove_and_an_arms_length(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        names = page.evaluate("[...document.querySelectorAll('.screen')].map(each => each.id)")
        for name in names:
            page.locator(f"#{name}").wait_for()
            expect(page.locator(".screen:visible")).to_have_count(1)
            assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0], "nothing stands out to the side"
            assert page.evaluate(TOO_WIDE) == [], "a figure fits its place"
            small = [each for each in page.evaluate(AT_HAND) if min(each[1:]) < 64]
            assert small == []
            page.locator("#go-on" if name == "start" else f"#{name} nav a").last.tap()
        page.locator("#start").wait_for()  # after the last tube it begins again
        sizes = "[...document.querySelectorAll('.figure')].map(each => parseFloat(getComputedStyle(each).fontSize))"
        assert min(page.evaluate(sizes)) >= 28


@pytest.mark.quick(1)
@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE])
def test_a_joint_is_on_one_screen_without_scrolling(
    browser: Any, job: Job, tmp_path: Path, size: tuple[int, int]
) -> None:
    """Each of its parts, also of a header that is not cleared and says so, ends above the bar at the bottom."""
    file, data = written(job, tmp_path, clear=False)
    with opened(browser, file, size) as page:
        names = page.evaluate("[...document.querySelectorAll('.screen')].map(each => each.id)")[1:]
        assert len(names) >= sum(len(run["pieces"]) + 1 for run in data["runs"])
        for name in names:
            page.evaluate(f"location.hash = '{name}'")
            page.locator(f"#{name}.shown").wait_for()
            for part in page.evaluate(PARTS):
                assert part["seen"] == 1 and part["tabs"] <= 1, "one at a time"
                assert part["height"] <= size[1] and part["ends"] <= part["bar"]
                assert part["wide"] == [], "a figure fits its place"
            small = [each for each in page.evaluate(AT_HAND) if min(each[1:]) < 64]
            assert small == []


@pytest.mark.quick(1)
@pytest.mark.parametrize("size", [SMALL_PHONE, PHONE])
def test_a_first_piece_that_leans_is_on_one_screen_too(
    browser: Any, job: Job, tmp_path: Path, size: tuple[int, int]
) -> None:
    """It has the most parts, and the lean the most figures with fractions of an inch."""
    text = SPEC.read_text(encoding="utf-8").replace("../shared", str(SPEC.parents[1] / "shared"))
    square = "1: {at: [0, 0], shape: {round: 38}}"
    assert square in text
    leaning = text.replace(square, f"{square[:-1]}, tilt: {{angle: 6, toward: -140}}}}")
    (tmp_path / "leaning.yaml").write_text(leaning, encoding="utf-8")
    header = settle(tmp_path / "leaning.yaml")
    file, _ = written((header, shop_of(header), job[2]), tmp_path, clear=False)
    with opened(browser, file, size) as page:
        page.evaluate("location.hash = 'tube-1-piece-1'")
        page.locator("#tube-1-piece-1.shown").wait_for()
        parts = page.evaluate(PARTS)
        assert len(parts) >= 4
        for part in parts:
            assert part["seen"] == 1 and part["wide"] == []
            assert part["height"] <= size[1] and part["ends"] <= part["bar"]
        assert [each for each in page.evaluate(AT_HAND) if min(each[1:]) < 64] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_parts_of_a_joint_have_all_its_figures_between_them(browser: Any, page_file: Path) -> None:
    """What the tabs show one after the other is all that stands on the screen."""
    with opened(browser, page_file, SMALL_PHONE) as page:
        page.locator("#go-on").tap()
        screen = page.locator(".screen:visible", has=page.get_by_role("tab"))
        screen.wait_for()
        wanted = set(screen.locator(".figure").evaluate_all("all => all.map(each => each.dataset.at)"))
        seen = set()
        for tab in screen.locator("[role=tab]").all():
            turned_to(tab)
            seen |= set(screen.locator(".figure:visible").evaluate_all("all => all.map(each => each.dataset.at)"))
        assert seen == wanted and len(wanted) > 8


def test_ticks_stay_for_this_job_and_no_other(browser: Any, job: Job, tmp_path: Path) -> None:
    file, _ = written(job, tmp_path)
    with opened(browser, file, PHONE) as page:
        page.locator("#go-on").tap()
        page.locator(".screen:visible .tick").tap()
        expect(page.get_by_text("✓ done")).to_have_count(1)
        page.reload()
        expect(page.locator(".screen:visible [data-tick]")).to_be_checked()
        page.evaluate("location.hash = 'start'")
        page.get_by_text("Go on where it was left").tap()
        expect(page.locator(".screen:visible [data-tick]"), "the first that is open").not_to_be_checked()
        written(job, tmp_path, revision="B")
        page.reload()
        expect(page.locator("[data-tick]:checked")).to_have_count(0)


def test_it_works_where_the_browser_keeps_nothing(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        page.add_init_script(REFUSES)
        page.reload()
        page.locator("#go-on").tap()
        page.locator(".screen:visible .tick").tap()
        page.locator("#tube-1-piece-1 nav a").last.tap()
        page.locator("#tube-1-piece-2 nav a").first.tap()
        page.locator("#tube-1-piece-1").wait_for()
        expect(page.locator(".screen:visible [data-tick]")).to_be_checked()


REFUSES = """Object.defineProperty(window, "localStorage", {
  get() { throw new DOMException("no", "SecurityError"); },
});"""
WAKE = """window.asked = []; Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
  window.asked.push(kind);
  return { released: false, async release() { this.released = true; window.asked.push("released"); } };
} } });"""


def test_the_screen_is_kept_awake_as_long_as_the_switch_says(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        page.add_init_script(WAKE)
        page.reload()
        assert page.evaluate("window.asked") == ["screen"]
        page.get_by_text("Keep the screen awake", exact=True).tap()
        page.wait_for_function("window.asked.length > 1")
        assert page.evaluate("window.asked") == ["screen", "released"]
        page.reload()
        assert page.evaluate("window.asked") == [], "the switch stays as it was left"


@pytest.mark.slow
def test_a_browser_that_cannot_keep_awake_is_said(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        page.add_init_script("delete Navigator.prototype.wakeLock")
        page.reload()
        expect(page.get_by_text("This browser cannot keep the screen awake")).to_be_visible()
        expect(page.get_by_text("Keep the screen awake", exact=True)).not_to_be_visible()


@pytest.mark.slow
def test_without_scripts_all_stands_one_after_another(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE, java_script_enabled=False) as page:
        seen = page.locator(".screen").evaluate_all("all => all.map((screen) => screen.checkVisibility())")
        assert len(seen) > 10 and all(seen)
        assert not page.get_by_text("Keep the screen awake", exact=True).is_visible(), "it would do nothing"
        box = page.locator("nav").first.bounding_box()
        assert box is not None and box["y"] > PHONE[1], "it lies over nothing"
