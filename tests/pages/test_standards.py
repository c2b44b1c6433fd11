"""Both pages, their scripts and the GLB by the tools of others: axe-core, typescript, eslint, the Khronos validator."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest

from tests.pages.browser import DESKTOP, PHONE, opened
from tests.pages.npm import installed, ran

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "headergen"
SHARED = [PACKAGE / "show" / "templates" / name for name in ("page.js", "scene.js")]
OWN = sorted((PACKAGE / "outputs").glob("*/templates/*.js"))
DEMOS = ("bogbean", "glasswort_right", "withybed", "glasswort_left", "glasswort_scanned")
LINT = """
import js from "@eslint/js";
import globals from "globals";
export default [js.configs.recommended, {
  languageOptions: { sourceType: "script", globals: globals.browser },
  rules: { "no-unused-vars": ["error", { vars: "local" }] },  // one script uses what another defines
}];
"""
VALIDATE = """
const { readFileSync } = require("fs"), { validateBytes } = require("gltf-validator");
validateBytes(new Uint8Array(readFileSync(process.argv[2]))).then((r) => console.log(JSON.stringify(r.issues)));
"""
AXE = "axe.run().then((r) => r.violations.map((v) => [v.impact, v.id, v.nodes[0].html.slice(0, 120)]))"


@pytest.fixture(scope="module")
def programs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return installed(tmp_path_factory.mktemp("npm"))


def test_the_scripts_are_of_the_types_they_say(programs: Path) -> None:
    assert OWN, "every page has a script of its own"
    for own in OWN:
        options = ("--checkJs", "--allowJs", "--noEmit", "--strict", "--target", "es2022")
        libraries = ("--lib", "es2022,dom,dom.iterable")
        ran(programs, programs / "node_modules" / ".bin" / "tsc", *options, *libraries, *SHARED, own)


def test_the_scripts_are_tidy(programs: Path, tmp_path: Path) -> None:
    (programs / "eslint.config.mjs").write_text(LINT, encoding="utf-8")
    scripts = programs / "scripts"
    scripts.mkdir()
    for path in (*SHARED, *OWN):  # eslint reads nothing outside of its folder
        (scripts / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    ran(programs, programs / "node_modules" / ".bin" / "eslint", "--max-warnings", "0", "scripts")


@pytest.mark.series
@pytest.mark.parametrize("demo", DEMOS)
def test_axe_finds_nothing_serious(browser: Any, programs: Path, built_demo: Callable[[str], Path], demo: str) -> None:
    """Both pages, light and dark, of one bank on a phone and of another on a desk."""
    axe = (programs / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    size = DESKTOP if DEMOS.index(demo) % 2 else PHONE
    for name, scheme in product(("preview.html", "report.html"), ("light", "dark")):
        with opened(browser, built_demo(demo) / name, size, color_scheme=scheme) as page:
            page.evaluate(axe)
            found = page.evaluate(AXE)
            assert [each for each in found if each[0] in ("serious", "critical")] == [], (name, scheme)


@pytest.mark.series
@pytest.mark.parametrize("demo", DEMOS)
def test_a_glb_is_valid(programs: Path, built_demo: Callable[[str], Path], demo: str) -> None:
    (programs / "validate.cjs").write_text(VALIDATE, encoding="utf-8")
    issues = json.loads(ran(programs, "node", "validate.cjs", built_demo(demo) / "header.glb"))
    assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), issues["messages"][:3]


@pytest.mark.series
@pytest.mark.parametrize("demo", DEMOS)
def test_pages_of_a_demo_are_small_enough(built_demo: Callable[[str], Path], demo: str) -> None:
    assert (built_demo(demo) / "preview.html").stat().st_size <= 3_000_000
    assert (built_demo(demo) / "report.html").stat().st_size <= 5_000_000
