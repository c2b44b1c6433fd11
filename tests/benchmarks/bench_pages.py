"""What the customer's page and sheet add to a build, and how soon the page draws beside an empty three.js scene.

python tests/benchmarks/bench_pages.py [SPEC]
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from headergen import __version__
from headergen.checks.sign_off import sign_off
from headergen.jobs.pages import make_pages, shown_meshes
from headergen.jobs.parts import make_solids
from headergen.pipeline import check
from headergen.show.meshes import size_of
from headergen.show.three import three_js
from tests.pages.browser import DESKTOP, running

EMPTY = """<!doctype html><div id="view" style="width:100vw;height:100vh"></div><script>{three}</script><script>
const r = new THREE.WebGLRenderer({{ antialias: true }}); r.setSize(innerWidth, innerHeight);
document.getElementById("view").append(r.domElement);
r.render(new THREE.Scene(), new THREE.PerspectiveCamera());
</script>"""
DRAWN = (
    "() => { const c = document.querySelector('canvas'); c.getContext('webgl2').finish(); return performance.now(); }"
)
ROUNDS = 5


def drawn_after(browser: object, file: Path) -> float:
    """Milliseconds from the start of the page to its first picture."""
    context = browser.new_context(viewport={"width": DESKTOP[0], "height": DESKTOP[1]}, offline=True)  # type: ignore[attr-defined]
    page = context.new_page()
    page.goto(file.as_uri(), wait_until="load")
    taken = float(page.evaluate(DRAWN))
    context.close()
    return taken


def main(spec: Path) -> None:
    began = time.perf_counter()
    checked = check(spec)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        made = make_solids(checked.result.header, checked.without_solid, folder, lambda *_: None)
        built = time.perf_counter() - began
        began = time.perf_counter()
        shown = shown_meshes(checked.result, checked.meshes, made)
        facts = sign_off(checked.result, checked.signature, None, size_of(shown))
        make_pages(folder, (facts, None), shown, checked.result, __version__)
        pages = time.perf_counter() - began
        size = (folder / "preview.html").stat().st_size
        print(f"{spec.name}: page and sheet {pages:.2f} s with their imports, check and solids {built:.2f} s")
        print(f"preview.html {size / 1e6:.2f} MB without its picture")
        (folder / "empty.html").write_text(EMPTY.format(three=three_js()), encoding="utf-8")
        with running() as browser:
            ours = [drawn_after(browser, folder / "preview.html") for _ in range(ROUNDS)]
            empty = [drawn_after(browser, folder / "empty.html") for _ in range(ROUNDS)]
        one, other = statistics.median(ours), statistics.median(empty)
        print(f"first picture {one:.0f} ms, empty scene {other:.0f} ms: {one / other:.2f} times")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "specs" / "bogbean.yaml")
