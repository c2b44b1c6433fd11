"""The report page in a browser: a finding flies to its place, lengths switch, and without scripts all of it is said."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from headergen.jobs.pages import make_report_page, measured_meshes
from headergen.pipeline import Checked, evidence
from tests.demos import checked_once
from tests.pages.browser import DESKTOP, PHONE, drawn, once, opened, painted

ROOT = Path(__file__).parents[2]
CLEAR, WRONG = ROOT / "specs" / "glasswort_right.yaml", ROOT / "tests" / "bad_demo" / "ten_troubles.yaml"
MOST_BYTES = 5_000_000


MEAN = """() => { const c = document.querySelector(".view canvas"), d = document.createElement("canvas");
  d.width = c.width; d.height = c.height; const p = d.getContext("2d"); p.drawImage(c, 0, 0);
  const q = p.getImageData(0, 0, d.width, d.height).data, sum = [0, 0, 0]; let n = 0;
  for (let k = 0; k < q.length; k += 4) if (q[k + 3] > 250) { n += 1; for (let i = 0; i < 3; i++) sum[i] += q[k + i]; }
  return sum.map((each) => each / n); }"""


def written(spec: Path, folder: Path) -> tuple[Path, Checked]:
    checked = checked_once(spec.stem, spec.parent.relative_to(ROOT).as_posix())
    shown = measured_meshes(checked.result, checked.meshes)
    assert make_report_page(folder, checked.result, evidence(spec, checked), (shown, None, "1.0")) == ()
    return folder / "report.html", checked


@pytest.fixture(scope="module")
def wrong(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Checked]:
    return written(WRONG, tmp_path_factory.mktemp("wrong"))


@pytest.fixture(scope="module")
def clear(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Checked]:
    return written(CLEAR, tmp_path_factory.mktemp("clear"))


def landed(page: Any, middle: list[float]) -> dict[str, Any]:
    """The camera once it looks at a place."""
    page.wait_for_function(
        "(there) => headerView.camera().to.every((value, k) => Math.abs(value - there[k]) < 0.01)", arg=middle
    )
    return dict(page.evaluate("headerView.camera()"))


@pytest.mark.quick(1)
@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_it_draws_from_a_file_with_the_network_off(
    browser: Any, wrong: tuple[Path, Checked], size: tuple[int, int]
) -> None:
    with opened(browser, wrong[0], size) as page:
        found = painted(page)
        assert found["share"] > 0.02 and found["tones"] > 8
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], "nothing stands out to the side"
        tops = "(all) => all.map((e) => document.querySelector(e).getBoundingClientRect().top)"
        order = page.evaluate(tops, [".verdict", ".findings", "details[data-section]"])
        assert order == sorted(order), "verdict, findings, evidence"


def test_a_finding_flies_to_its_place_and_shows_the_gap(browser: Any, wrong: tuple[Path, Checked]) -> None:
    file, checked = wrong
    gap = next(gap for gap in checked.result.survey.gaps if (gap.a, gap.b) == ("primary 2", "brake line"))
    middle = [(a + b) / 2 for a, b in zip(*gap.points, strict=True)]
    with opened(browser, file) as page:
        row = page.locator(".findings li", has_text="from brake line")
        row.get_by_role("button").click()
        camera = landed(page, middle)
        off = [a - b for a, b in zip(camera["from"], camera["to"], strict=True)]
        along = [b - a for a, b in zip(*gap.points, strict=True)]
        across = sum(a * b for a, b in zip(off, along, strict=True))
        assert abs(across) < 0.05 * sum(a * a for a in off) ** 0.5 * gap.value, "seen from the side"
        expect(page.locator(".tags .dimension")).to_have_text("30.0 mm", use_inner_text=True)
        expect(page.locator("#seen")).to_contain_text("primary 2, 30.0 mm")


@pytest.mark.slow
def test_a_gap_of_the_table_flies_to_its_place_too(browser: Any, wrong: tuple[Path, Checked]) -> None:
    file, checked = wrong
    gap = next(gap for gap in checked.result.survey.gaps if (gap.a, gap.b) == ("primary 2", "primary 3"))
    middle = [(a + b) / 2 for a, b in zip(*gap.points, strict=True)]
    with opened(browser, file, PHONE) as page:
        page.get_by_role("button", name="Open every section").click()
        page.get_by_role("button", name=re.compile(r"^3\.0\s+too near\s*, Primary 2, Primary 3$")).click()
        landed(page, middle)
        expect(page.locator(".tags .dimension")).to_have_text("3.0 mm", use_inner_text=True)


@pytest.mark.slow
def test_a_depth_is_said_as_one(browser: Any, wrong: tuple[Path, Checked]) -> None:
    with opened(browser, wrong[0]) as page:
        page.locator(".findings li", has_text="runs through engine mount").get_by_role("button").click()
        expect(page.locator(".tags .dimension")).to_have_text("29.1 mm deep", use_inner_text=True)


def test_lengths_switch_between_millimetres_and_inches(browser: Any, wrong: tuple[Path, Checked]) -> None:
    with opened(browser, wrong[0]) as page:
        row = page.locator(".findings li", has_text="engine mount")
        row.get_by_role("button").click()
        page.get_by_label("Inches").check()
        expect(row).to_contain_text("1.146 in deep; 0.591 in required")  # 29.1, 15
        expect(row).to_contain_text("5.661 to 10.087 in")  # 143.8, 256.2
        expect(page.locator(".tags .dimension")).to_have_text(re.compile("in deep$"), use_inner_text=True)
        page.get_by_role("button", name="Open every section").click()
        expect(
            page.locator("svg.figure text", has_text="7.87").first, "ticks of the plots switch as well"
        ).to_be_visible()
        page.get_by_label("Millimetres").check()
        expect(row).to_contain_text("29.1 mm deep; 15.0 mm required")


def test_the_tubes_show_their_gaps(browser: Any, wrong: tuple[Path, Checked]) -> None:
    def mean(page: Any) -> Any:
        drawn(page)
        return page.evaluate(MEAN)

    with opened(browser, wrong[0]) as page:
        share, steel = painted(page)["share"], mean(page)
        page.get_by_label("Gap scale").check()
        red, _, blue = once(page, mean, lambda found: found[2] > found[0] + 20)
        assert blue > red + 20 and abs(steel[2] - steel[0]) < 20, "in the one hue, and not in grey"
        assert painted(page)["share"] == pytest.approx(share, rel=0.1), "the same tubes"
        expect(page.locator("#live-scale")).to_be_visible()
        page.get_by_label("Steel").check()
        assert once(page, mean, lambda found: found == pytest.approx(steel, abs=0.5)) == pytest.approx(steel, abs=0.5)


def test_without_scripts_all_of_it_is_said(browser: Any, wrong: tuple[Path, Checked]) -> None:
    file, checked = wrong
    with opened(browser, file, PHONE, java_script_enabled=False) as page:
        said = page.locator("body").inner_text()
        for folded in page.locator("details[data-section]").all():
            assert folded.locator("summary .result").inner_text(), "what it comes to is said while it is folded"
            folded.locator("summary").click()
            expect(folded.locator(".blocks"), "and it opens without a script").to_be_visible()
        assert "NOT CLEARED" in said
        for finding in checked.result.findings:
            assert finding.message in said
        assert page.locator("svg.figure").count() >= len(checked.result.header.runs)
        expect(page.get_by_role("radio").first, "what needs scripts is not shown").not_to_be_visible()
        expect(page.locator("button:visible:enabled")).to_have_count(0)


def test_both_banks_are_on_the_page_of_a_mirrored_one(browser: Any, clear: tuple[Path, Checked]) -> None:
    with opened(browser, clear[0]) as page:
        bank = page.locator("section", has=page.get_by_role("heading", name="Both banks"))
        bank.locator("summary").click()
        expect(bank.locator(".blocks")).to_be_visible()
        assert bank.locator("path.this-bank").count() == bank.locator("path.other-bank").count() == 2 * 3
        # the demo is the left bank moved whole by 24 mm rearward
        row = bank.get_by_role("row", name=re.compile("^main from main"))
        assert [cell.split(" ")[0] for cell in row.get_by_role("cell").all_inner_texts()][:3] == [
            "-24.0",
            "+0.0",
            "+0.0",
        ]


def test_a_shop_reads_it_in_few_screens_and_all_of_it_on_paper(browser: Any, clear: tuple[Path, Checked]) -> None:
    with opened(browser, clear[0], PHONE) as page:
        assert page.evaluate("document.documentElement.scrollHeight") < 8 * PHONE[1]
        page.emulate_media(media="print")
        page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        expect(page.locator("details[data-section]:not([open])")).to_have_count(0)
        for each in page.locator("details[data-section] .blocks").all():
            expect(each).to_be_visible()


@pytest.mark.slow
def test_on_paper_all_is_open_without_scripts_too(browser: Any, clear: tuple[Path, Checked]) -> None:
    with opened(browser, clear[0], PHONE, java_script_enabled=False) as page:
        section = page.locator("details[data-section]").first
        folded = section.bounding_box()["height"]
        page.emulate_media(media="print")
        expect(section.locator(".blocks")).to_be_visible()
        assert section.bounding_box()["height"] > 2 * folded


@pytest.mark.slow
def test_text_at_twice_its_size_stays_inside(browser: Any, clear: tuple[Path, Checked]) -> None:
    with opened(browser, clear[0], PHONE) as page:
        page.get_by_role("button", name="Open every section").click()
        expect(page.locator("details[data-section]:not([open])")).to_have_count(0)
        page.add_style_tag(content="html { font-size: 200% }")
        drawn(page)
        out = page.evaluate(
            "[...document.querySelectorAll('main *')].filter((e) => e.getClientRects().length && "
            "!e.closest('.scroll table, svg, .unseen, .tags') && e.getBoundingClientRect().right > innerWidth + 1)"
            ".map((e) => e.outerHTML.slice(0, 80))"
        )
        assert out == []


def test_text_and_targets_are_large_enough(browser: Any, wrong: tuple[Path, Checked]) -> None:
    with opened(browser, wrong[0], PHONE) as page:
        page.get_by_role("button", name="Open every section").click()
        expect(page.locator("details[data-section]:not([open])")).to_have_count(0)
        small = page.evaluate(
            "[...document.querySelectorAll('button, summary, label.choice')].filter((e) => e.getClientRects().length)"
            ".map((e) => [e.textContent, e.getBoundingClientRect()]).filter(([, r]) => r.height < 44 || r.width < 44)"
        )
        assert small == []
        sizes = page.evaluate(
            "[...document.querySelectorAll('p, li, td, th, label, button, figcaption')]"
            ".map((e) => parseFloat(getComputedStyle(e).fontSize))"
        )
        assert min(sizes) >= 16
        of_drawings = page.evaluate(
            "[...document.querySelectorAll('svg.figure')].flatMap((s) => [...s.querySelectorAll('text')].map((t) => "
            "parseFloat(getComputedStyle(t).fontSize) * s.getBoundingClientRect().width / s.viewBox.baseVal.width))"
        )
        assert min(of_drawings) > 14.5, "text of a drawing in a phone's width"


def test_it_names_no_folder_and_stays_small(wrong: tuple[Path, Checked]) -> None:
    text = wrong[0].read_text(encoding="utf-8")
    own = re.sub(r"<script>\s*/\*\*\s*\* @license.*?</script>", "", text, count=1, flags=re.DOTALL)
    assert len(own) < len(text), "three.js is looked past"
    for word in (str(WRONG.parent), str(Path.home())):
        assert word not in own
    assert len(text.encode()) <= MOST_BYTES
    data = json.loads(re.search(r'id="page-data">(.*?)</script>', text, re.DOTALL)[1])  # type: ignore[index]
    assert {mesh["group"] for mesh in data["meshes"]} == {"header", "chassis", "gap", "below"}
