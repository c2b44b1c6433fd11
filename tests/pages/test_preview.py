"""The customer's page in a browser: it draws, turns, pinches, hides parts, and says its facts without scripts."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from headergen.checks.sign_off import sign_off
from headergen.geometry.mesh.tube import tube_mesh
from headergen.outputs.customer.preview import Label, PreviewLooks, write_preview
from headergen.pipeline import Checked
from headergen.show.chassis import item_meshes
from headergen.show.meshes import ShownMesh
from tests.demos import checked_once
from tests.pages.browser import DESKTOP, PHONE, drawn, once, opened, painted

SPEC = Path(__file__).parents[2] / "specs" / "withybed.yaml"
# the outlet; then two things at one place, of which there is room for one
LABELS = (
    Label("outlet fore", (0.0, 0.0, -300.0), "end"),
    Label("stringer", (-400.0, 100.0, 0.0), "around"),
    Label("wire", (-400.0, 100.0, 0.0), "around"),
)
MOST_BYTES = 3_000_000


PICTURE = "document.querySelector('.view canvas').toDataURL()"


@pytest.fixture(scope="module")
def checked() -> Checked:
    return checked_once("withybed")


@pytest.fixture(scope="module")
def page_file(checked: Checked, tmp_path_factory: pytest.TempPathFactory) -> Path:
    header = checked.result.header
    tubes = [
        ShownMesh(run.name, "header", tube_mesh(line, run.tube.radius, run.tube.radius - run.tube.wall, 0.2))
        for run, line in header.tubes
    ]
    boxes = [item for item in header.draft.chassis if item.name not in checked.meshes]
    around = [ShownMesh(name, "chassis", mesh) for name, mesh in item_meshes(boxes, {})]
    facts = sign_off(checked.result, checked.signature, grams=7_000.0, size=(700.0, 230.0, 470.0))
    file = tmp_path_factory.mktemp("page") / "preview.html"
    write_preview(file, facts, "in", [*tubes, *around], PreviewLooks((0.6, 0.7, 0.4), labels=LABELS), "1.0")
    return file


@pytest.mark.quick(1)
@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_it_draws_from_a_file_with_the_network_off(browser: Any, page_file: Path, size: tuple[int, int]) -> None:
    with opened(browser, page_file, size) as page:
        found = painted(page)
        assert found["share"] > 0.02 and found["tones"] > 8, "a shaded body on the ground of the view"
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size[0], "nothing stands out to the side"


def test_parts_go_and_come_back(browser: Any, page_file: Path, checked: Checked) -> None:
    with opened(browser, page_file) as page:
        before = painted(page)["share"]
        page.get_by_text("Parts of the header").click()
        for name in [run.name for run in checked.result.header.runs]:
            page.get_by_role("checkbox", name=name.capitalize()).uncheck()
        none = once(page, painted, lambda found: found["share"] == 0)
        assert none["share"] == 0, "what is around it is see-through"
        page.get_by_role("checkbox", name="Primary 2").check()
        assert 0 < once(page, painted, lambda found: found["share"] > 0)["share"] < before


@pytest.mark.slow
def test_what_is_around_it_can_be_left_out(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        drawn(page)
        shown = page.evaluate(PICTURE)
        page.get_by_label("Shown faintly").uncheck()
        assert once(page, lambda page: page.evaluate(PICTURE), lambda found: found != shown) != shown


def test_what_is_around_it_has_its_name(browser: Any, page_file: Path) -> None:
    """Of two names at one place the first stands; without the chassis none of them does."""
    names = """[...document.querySelectorAll(".tags span")]
      .filter((e) => e.style.visibility === "visible").map((e) => e.textContent)"""

    def read(page: Any) -> Any:
        return page.evaluate(names)

    with opened(browser, page_file) as page:
        assert once(page, read, lambda found: len(found) == 2) == ["outlet fore", "stringer"]
        page.get_by_label("Shown faintly").uncheck()
        assert once(page, read, lambda found: len(found) == 1) == ["outlet fore"]


def test_it_says_first_where_it_ends_and_what_is_nearest(browser: Any, page_file: Path, checked: Checked) -> None:
    facts = sign_off(checked.result, checked.signature)
    with opened(browser, page_file, PHONE, java_script_enabled=False) as page:
        said = page.locator(".glance").inner_text()
        assert facts.gaps[0].item in said and facts.gaps[0].part in said
        for outlet in facts.outlets:
            assert f"Outlet {outlet.collector} ends" in said
        assert page.locator(".glance").bounding_box()["y"] < 400, "on the first screen"


def test_a_finish_changes_the_tone_and_nothing_else(browser: Any, page_file: Path) -> None:
    tone = """() => { const c = document.querySelector(".view canvas"), d = document.createElement("canvas");
      d.width = c.width; d.height = c.height; const p = d.getContext("2d"); p.drawImage(c, 0, 0);
      const q = p.getImageData(0, 0, d.width, d.height).data; let sum = 0, n = 0;
      for (let k = 0; k < q.length; k += 4) if (q[k + 3] > 250) { sum += q[k]; n += 1; } return [sum / n, n]; }"""

    def read(page: Any) -> Any:
        drawn(page)
        return page.evaluate(tone)

    with opened(browser, page_file) as page:
        page.get_by_label("Bare stainless").check()
        bright, many = once(page, read, lambda found: found[0] > 100)  # of 255
        page.get_by_label("Black ceramic").check()
        dark, as_many = once(page, read, lambda found: found[0] < bright / 2)
        assert dark < bright / 2 and as_many == many


def test_lengths_switch_between_millimetres_and_inches(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        row = page.get_by_role("row", name="Overall size")
        weight = page.get_by_role("row", name="Weight")
        expect(row).to_contain_text("27.559 in long")  # 700 / 25.4
        page.get_by_label("Millimetres").check()
        expect(row).to_contain_text("700.0 mm long, 230.0 mm wide, 470.0 mm high")
        expect(weight).to_contain_text("7.00 kg")
        page.get_by_label("Inches").check()
        expect(weight).to_contain_text("15.4 lb")  # 7 kg / 0.45359237


def camera(page: Any) -> tuple[Any, float]:
    found = page.evaluate("headerView.camera()")
    off = [a - b for a, b in zip(found["from"], found["to"], strict=True)]
    return found, sum(value * value for value in off) ** 0.5


def moved(page: Any, before: Any) -> tuple[Any, float]:
    """The camera once it is elsewhere and stands still; it fails where nothing moves."""

    def next_one(page: Any) -> tuple[Any, float]:
        drawn(page)
        return camera(page)

    there = once(page, next_one, lambda found: found[0]["from"] != pytest.approx(before["from"], abs=0.01))
    assert there[0]["from"] != pytest.approx(before["from"], abs=0.01)
    while (later := next_one(page)) != there:  # a drag is many small moves
        there = later
    return there


def test_a_drag_turns_and_the_wheel_comes_nearer(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        first, far = camera(page)
        box = page.locator(".view canvas").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 120, y + 30, steps=4)
        page.mouse.up()
        turned, as_far = moved(page, first)
        assert turned["to"] == first["to"] and as_far == pytest.approx(far)
        assert turned["from"] != first["from"]
        page.mouse.wheel(0, -200)
        assert moved(page, turned)[1] < far
        page.get_by_role("button", name="Back to the first view").click()
        page.wait_for_function(
            "(there) => headerView.camera().from.every((value, k) => Math.abs(value - there[k]) < 0.5)",
            arg=first["from"],
        )


def touched(session: Any, kind: str, points: list[tuple[float, float]]) -> None:
    places = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]
    session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": places})


@pytest.mark.slow
def test_one_finger_turns_and_two_pinch(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        page.locator(".view canvas").scroll_into_view_if_needed()
        box = page.locator(".view canvas").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        first, far = camera(page)
        fingers = page.context.new_cdp_session(page)
        touched(fingers, "touchStart", [(x, y)])
        touched(fingers, "touchMove", [(x + 60, y)])
        touched(fingers, "touchEnd", [])
        turned, _ = moved(page, first)
        assert turned["from"] != first["from"] and turned["to"] == first["to"]
        touched(fingers, "touchStart", [(x - 30, y), (x + 30, y)])
        touched(fingers, "touchMove", [(x - 90, y), (x + 90, y)])
        touched(fingers, "touchEnd", [])
        assert moved(page, turned)[1] == pytest.approx(far / 3, rel=0.05), "fingers three times as far apart"


@pytest.mark.slow
def test_keys_turn_it(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file) as page:
        page.locator(".view canvas").focus()
        first, far = camera(page)
        page.keyboard.press("ArrowLeft")
        turned, as_far = moved(page, first)
        assert turned["to"] == first["to"] and as_far == pytest.approx(far)
        page.keyboard.press("+")
        _, near = moved(page, turned)
        assert near == pytest.approx(0.85 * far)


def test_without_scripts_the_facts_are_there(browser: Any, page_file: Path, checked: Checked) -> None:
    with opened(browser, page_file, PHONE, java_script_enabled=False) as page:
        said = page.locator("main").inner_text()
        assert "27.559 in long" in said and checked.signature in said
        for run in checked.result.header.runs:
            assert run.name in said
        expect(page.get_by_role("radio").first, "what needs scripts is not shown").not_to_be_visible()


def test_text_at_twice_its_size_stays_inside(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        page.add_style_tag(content="html { font-size: 200% }")
        drawn(page)
        out = page.evaluate(
            "[...document.querySelectorAll('main *')].filter((e) => e.getClientRects().length && "
            "e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.outerHTML.slice(0, 80))"
        )
        assert out == []


def test_targets_are_large_enough_for_a_thumb(browser: Any, page_file: Path) -> None:
    with opened(browser, page_file, PHONE) as page:
        small = page.evaluate(
            "[...document.querySelectorAll('button, summary, label.choice')].filter((e) => e.getClientRects().length)"
            ".map((e) => [e.textContent, e.getBoundingClientRect().height]).filter(([, h]) => h < 44)"
        )
        assert small == []
        sizes = page.evaluate(
            "[...document.querySelectorAll('p, td, th, label, button, summary, code')]"
            ".map((e) => parseFloat(getComputedStyle(e).fontSize))"
        )
        assert min(sizes) >= 16


def test_it_says_nothing_of_the_machine_or_the_spec(page_file: Path) -> None:
    text = page_file.read_text(encoding="utf-8")
    own = re.sub(r"<script>\s*/\*\*\s*\* @license.*?</script>", "", text, count=1, flags=re.DOTALL)
    assert len(own) < len(text), "three.js is looked past"
    for word in (str(SPEC.parent), str(Path.home()), SPEC.name, "clearance:", "primaries:"):
        assert word not in own
    assert len(text.encode()) <= MOST_BYTES
    json.loads(re.search(r'id="page-data">(.*?)</script>', text, re.DOTALL)[1])  # type: ignore[index]
