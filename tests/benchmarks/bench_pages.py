"""What the customer's page and sheet and the report page add to a build, by processor time, since others use the
machine as well; and how soon both pages draw beside an empty three.js scene.

python tests/benchmarks/bench_pages.py [SPEC]
"""

from __future__ import annotations

import functools
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))

from headergen import pipeline
from headergen.jobs import pages
from headergen.show.three import three_js
from tests.cli.calls import called
from tests.pages.browser import DESKTOP, running

EMPTY = """<!doctype html><div id="view" style="width:100vw;height:100vh"></div><script>{three}</script><script>
const r = new THREE.WebGLRenderer({{ antialias: true }}); r.setSize(innerWidth, innerHeight);
document.getElementById("view").append(r.domElement);
r.render(new THREE.Scene(), new THREE.PerspectiveCamera());
</script>"""
# all scripts have run by then, and the first picture has been asked for; what comes with the next frame has not
DRAWN = """addEventListener("DOMContentLoaded", () => {
  document.querySelector("canvas").getContext("webgl2").finish();
  window.firstPicture = performance.now();
});"""
ROUNDS = 5
PAGES = ("preview.html", "report.html")


def drawn_after(browser: object, file: Path) -> float:
    """Milliseconds from the start of the page to its first picture."""
    context = browser.new_context(viewport={"width": DESKTOP[0], "height": DESKTOP[1]}, offline=True)  # type: ignore[attr-defined]
    page = context.new_page()
    page.add_init_script(DRAWN)
    page.goto(file.as_uri(), wait_until="load")
    taken = float(page.evaluate("firstPicture"))
    context.close()
    return taken


def timed(module: Any, name: str, taken: dict[str, float]) -> None:
    """Has a function add the processor time it takes, imports with it."""
    function = getattr(module, name)

    @functools.wraps(function)
    def clocked(*given: Any, **named: Any) -> Any:
        began = time.process_time()
        try:
            return function(*given, **named)
        finally:
            taken[name] = taken.get(name, 0.0) + time.process_time() - began

    setattr(module, name, clocked)


def main(spec: Path) -> None:
    taken: dict[str, float] = {}
    for name in ("shown_meshes", "jpeg_of", "make_pages", "make_report_page"):
        timed(pages, name, taken)
    timed(pipeline, "evidence", taken)
    with tempfile.TemporaryDirectory() as place:
        done = called("build", spec, "--out", place)
        assert done.returncode in (0, 1), done.stderr
        folder = Path(place, spec.stem)
        each = ", ".join(f"{name} {seconds:.2f}" for name, seconds in taken.items())
        print(f"{spec.name}: processor time of the pages {sum(taken.values()):.2f} s (allowed 1): {each}")
        (folder / "empty.html").write_text(EMPTY.format(three=three_js()), encoding="utf-8")
        times: dict[str, list[float]] = {name: [] for name in (*PAGES, "empty.html")}
        with running() as browser:
            for _ in range(ROUNDS):  # in turn, so that what else the machine does falls on all alike
                for name, found in times.items():
                    found.append(drawn_after(browser, folder / name))
        other = statistics.median(times["empty.html"])
        for page in PAGES:
            one, size = statistics.median(times[page]), (folder / page).stat().st_size / 1e6
            told = f"first picture {one:.0f} ms, empty scene {other:.0f} ms: {one / other:.2f} times, allowed 5"
            print(f"{page} {size:.2f} MB; {told}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[2] / "specs" / "bogbean.yaml")
