"""Both pages, their scripts and the GLB by the tools of others: axe-core, typescript, eslint, the Khronos validator."""

from __future__ import annotations

import json
from collections.abc import Callable
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
DEMOS = [path.stem for name in ("bogbean", "glasswort", "withybed") for path in (ROOT / "specs").glob(f"{name}*.yaml")]
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


@pytest.fixture(scope="module")
def built(built_demo: Callable[[str], Path]) -> dict[str, Path]:
    return {name: built_demo(name) for name in DEMOS}


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


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["preview.html", "report.html"])
def test_axe_finds_nothing_serious(
    browser: Any, programs: Path, built: dict[str, Path], name: str, scheme: str
) -> None:
    axe = (programs / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
    for demo, size in (("bogbean", PHONE), ("glasswort_right", DESKTOP)):
        with opened(browser, built[demo] / name, size, color_scheme=scheme) as page:
            page.evaluate(axe)
            found = page.evaluate(AXE)
            assert [each for each in found if each[0] in ("serious", "critical")] == []


def test_every_glb_is_valid(programs: Path, built: dict[str, Path]) -> None:
    (programs / "validate.cjs").write_text(VALIDATE, encoding="utf-8")
    for demo, folder in built.items():
        issues = json.loads(ran(programs, "node", "validate.cjs", folder / "header.glb"))
        assert (issues["numErrors"], issues["numWarnings"]) == (0, 0), (demo, issues["messages"][:3])


def test_pages_of_the_demos_are_small_enough(built: dict[str, Path]) -> None:
    for folder in built.values():
        assert (folder / "preview.html").stat().st_size <= 3_000_000
        assert (folder / "report.html").stat().st_size <= 5_000_000
