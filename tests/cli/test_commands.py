"""The commands as a person runs them: what they print, what they leave behind, and how they end."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from headergen import __version__
from headergen.commands.line import commands
from tests.cli.calls import ROOT, called, refuse_difference, run, without_pictures
from tests.spec.small_spec import SMALL

BOGBEAN = ROOT / "specs" / "bogbean.yaml"
TROUBLES = ROOT / "tests" / "bad_demo" / "ten_troubles.yaml"


def invoke(*arguments: str | Path) -> Result:
    return CliRunner().invoke(commands, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def built(built_demo: Callable[[str], Path]) -> Path:
    return built_demo("bogbean")


STARTER = "Mudskipper twin.yaml"


@pytest.fixture(scope="module")
def started(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a job as `init` begins it, built once."""
    folder = tmp_path_factory.mktemp("started")
    assert called("init", "Mudskipper twin", cwd=folder).returncode == 0
    with pytest.MonkeyPatch.context() as patch:
        without_pictures(patch.setattr)
        done = called("build", STARTER, cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder


def test_build_makes_every_file_and_lists_it(built: Path) -> None:
    numbers = range(1, 5)
    wanted = {f"primary_{n}.{kind}" for n in numbers for kind in ("step", "stl")}
    parts = ["flange", "collector_main", "spike_main", "outlet_ring_main", "boss_oxygen_sensor_M18x1_5"]
    parts += [f"tab_on_{where}" for n in numbers for where in (f"primary_{n}", f"bore_{n}_of_main")]
    wanted |= {f"{part}.{kind}" for part in parts for kind in ("step", "stl")}
    wanted |= {"flange.dxf", "outlet_ring_main.dxf"}
    wanted |= {"header.step", "header.glb", "header_cad.py", "picture.png", "report.json", "report.md", "manifest.json"}
    wanted |= {"preview.html", "report.html", "sign_off.pdf", "sign_off.json", "shop.json", "shop.html", "sheets.pdf"}
    wanted |= {f"shop/{table}.csv" for table in ("steps", "lengths", "pieces", "cuts", "turns", "bench", "order")}
    assert {path.relative_to(built).as_posix() for path in built.rglob("*") if path.is_file()} == wanted
    manifest = json.loads((built / "manifest.json").read_text(encoding="utf-8"))
    assert set(manifest["files"]) == wanted - {"manifest.json"}
    for name, digest in manifest["files"].items():
        assert hashlib.sha256((built / name).read_bytes()).hexdigest() == digest
    assert manifest["made_from"]["bogbean.yaml"] == hashlib.sha256(BOGBEAN.read_bytes()).hexdigest()
    assert manifest["not_made"] == []
    assert manifest["headergen"] == __version__
    assert [path.name for path in built.parent.iterdir()] == ["bogbean"]


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize(
    "name", ["bogbean", "withybed", "glasswort_left", "glasswort_right", "sedge", "sedge_turbine", "bulrush"]
)
def test_every_demo_has_the_same_bytes_in_another_process_folder_and_hash_seed(
    name: str, built_demo: Callable[[str], Path], tmp_path: Path
) -> None:
    """The first build ran with a random hash seed from the checkout; this one from a copy elsewhere, nothing kept."""
    for folder in ("specs", "shared"):
        for source in (ROOT / folder).rglob("*"):
            if source.is_file():
                target = tmp_path / "elsewhere" / source.relative_to(ROOT)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(source.read_bytes())
    other = {"PYTHONHASHSEED": "1", "XDG_CACHE_HOME": str(tmp_path / "cache")}
    done = run("build", f"specs/{name}.yaml", "--out", "again", cwd=tmp_path / "elsewhere", **other)
    assert done.returncode == 0, done.stderr
    refuse_difference(built_demo(name), tmp_path / "elsewhere" / "again" / name)


def test_demo_is_what_it_says(built: Path) -> None:
    """The bars of the demo: lengths within 2 mm of each other, no finding, every asked clearance held."""
    report = json.loads((built / "report.json").read_text(encoding="utf-8"))
    lengths = [run["developed_length_mm"] for run in report["runs"]]
    assert max(lengths) - min(lengths) <= 2.0
    assert report["findings"] == []
    assert all(gap["gap_mm"] >= gap["required_mm"] for gap in report["gaps"])


@pytest.mark.slow
def test_a_bend_that_folds_is_a_finding_and_no_fault_of_ours(tmp_path: Path) -> None:
    """What such a bend sweeps has no skin that two methods could agree on."""
    text = BOGBEAN.read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")
    (tmp_path / "job.yaml").write_text(text.replace("{bend: 60, radius: 63.5", "{bend: 60, radius: 20", 1), "utf-8")
    done = called("check", tmp_path / "job.yaml", cwd=tmp_path)
    assert done.returncode == 1, done.stderr
    assert "the inside of the bend would fold into itself" in " ".join(done.stdout.split()) and not done.stderr


def test_check_prints_and_makes_nothing(tmp_path: Path) -> None:
    done = run("check", BOGBEAN, cwd=tmp_path)
    assert done.returncode == 0
    assert "Clear" in done.stdout and "\x1b" not in done.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_check_prints_the_tables_of_the_bench_where_asked() -> None:
    """Without --table there are none; with it, each step of a path stands as it is written, and its pieces."""
    assert "Clocking" not in invoke("check", BOGBEAN).stdout
    done = invoke("check", BOGBEAN, "--table")
    assert done.exit_code == 0
    for title in ("Steps of every tube", "Lengths of every tube", "Pieces", "Clocking"):
        assert title in done.stdout
    for figure in ("274.23", "346.02", "252.01"):  # lengths of straights, as the spec has them
        assert f"{float(figure):.1f}" in done.stdout
    assert "698.0" in done.stdout  # 700.0 less the setback of 2 mm, which is not cut


@pytest.mark.slow
def test_check_says_what_build_warns_of_or_that_it_did_not_look() -> None:
    """Two tubes of the guide to steps close too rarely by hand. A check without its bench says that it did not check
    that; with it, it warns as `build` does."""
    spec = ROOT / "specs/guide_steps.yaml"
    alone, benched = (" ".join(invoke("check", spec, *more).stdout.split()) for more in ((), ("--table",)))
    assert "closes in" not in alone and "Not checked here: how often each tube closes by hand" in alone
    assert benched.count("WARNING Primary") == 2 and "its best; 90.0 % are required. Consider a straight" in benched
    assert "Clear: no errors, 2 warnings" in benched
    assert "Not checked here: parts by their own meshes" in benched


def test_check_never_loads_the_kernel() -> None:
    code = (
        f"import sys; from headergen.pipeline import check; from pathlib import Path; check(Path({str(BOGBEAN)!r}));"
        "print([m for m in ('OCP', 'cadquery', 'vtk', 'vtkmodules') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.slow
def test_check_writes_its_report_where_asked(tmp_path: Path) -> None:
    assert invoke("check", BOGBEAN, "--report", tmp_path / "here").exit_code == 0
    assert {path.name for path in (tmp_path / "here").iterdir()} == {"report.html", "report.json", "report.md"}


@pytest.mark.slow
def test_check_says_when_the_result_is_of_another_state(started: Path, tmp_path: Path) -> None:
    shutil.copytree(started, tmp_path, dirs_exist_ok=True)
    spec = tmp_path / STARTER
    assert "another state" not in called("check", STARTER, cwd=tmp_path).stderr
    spec.write_text(spec.read_text(encoding="utf-8").replace("revision: A", "revision: B"), encoding="utf-8")
    assert "another state" in called("check", STARTER, cwd=tmp_path).stderr


def test_errors_end_with_1_and_make_what_can_be_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    done = called("build", TROUBLES, "--out", tmp_path)
    assert done.returncode == 1
    folder = tmp_path / "ten_troubles"
    made = {path.name for path in folder.glob("primary_*.step")}
    assert made == {f"primary_{n}.step" for n in range(1, 8)}, "8 is too tight and 9 crosses itself"
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert [each["what"] for each in manifest["not_made"]] == ["solid of primary 8", "solid of primary 9"]
    assert manifest["verdict"] == "error findings"
    assert "NOT CLEARED" in (folder / "report.md").read_text(encoding="utf-8").split("\n## ")[0]


def test_unreadable_spec_ends_with_3_and_leaves_the_old_result(started: Path, tmp_path: Path) -> None:
    shutil.copytree(started, tmp_path, dirs_exist_ok=True)
    before = {path: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()}
    spec = tmp_path / STARTER
    spec.write_text(spec.read_text(encoding="utf-8").replace("wall: 1.5", "wall: 1,5"), encoding="utf-8")
    done = called("build", STARTER, cwd=tmp_path)
    assert done.returncode == 3
    assert f"{STARTER}:" in done.stderr and "1.5" in done.stderr and "Traceback" not in done.stderr
    assert {path: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()} == before


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["chekc"], 2, "No such command"),
        (["check"], 2, "Missing argument"),
        (["check", "nowhere.yaml"], 3, "nowhere.yaml"),
        (["check", "."], 3, "folder"),
        (["build", "nowhere.yaml"], 3, "nowhere.yaml"),
        (["build", "--out"], 2, "--out"),
        (["schema", "picture"], 2, "picture"),
        (["init"], 2, "Missing argument"),
        (["init", "no/such/folder/job"], 2, "there is no folder no/such/folder; make it first"),
        (["init", "jobs/"], 2, "a folder; add a name for the job"),
        (["init", "."], 2, "a folder; add a name for the job"),
    ],
)
def test_wrong_use_is_said_plainly(arguments: list[str], code: int, said: str, tmp_path: Path) -> None:
    done = called(*arguments, cwd=tmp_path)
    assert done.returncode == code, done.stderr
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_out_that_cannot_be_written_is_said_plainly(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    done = called("build", TROUBLES, "--out", tmp_path / "file" / "deeper")
    assert done.returncode == 2
    assert "file: this is a file" in done.stderr and "Traceback" not in done.stderr


def test_init_never_overwrites(tmp_path: Path) -> None:
    assert called("init", "job", cwd=tmp_path).returncode == 0
    text = (tmp_path / "job.yaml").read_text(encoding="utf-8")
    done = called("init", "job.yaml", cwd=tmp_path)
    assert done.returncode == 2 and "already there" in done.stderr
    assert (tmp_path / "job.yaml").read_text(encoding="utf-8") == text


def test_init_writes_the_schema_that_its_first_line_names(tmp_path: Path) -> None:
    """Beside the spec, the one that `headergen schema` prints; one that is at hand is used and stays as it is."""
    done = called("init", "job", cwd=tmp_path)
    first = (tmp_path / "job.yaml").read_text(encoding="utf-8").splitlines()[0]
    schema = tmp_path / first.rpartition("=")[2]
    assert done.returncode == 0 and schema.name in done.stdout
    assert json.loads(schema.read_text(encoding="utf-8")) == json.loads(invoke("schema", "spec").output)
    schema.write_text("{}", encoding="utf-8")
    again = called("init", "second", cwd=tmp_path)
    assert again.returncode == 0 and schema.name not in again.stdout
    assert schema.read_text(encoding="utf-8") == "{}"


def test_starter_builds_as_it_is(started: Path) -> None:
    assert (started / "out" / "Mudskipper twin" / "header.step").is_file()


def test_schema_is_the_one_that_is_kept() -> None:
    for what, file in (("spec", "headergen.schema.json"), ("report", "report.schema.json")):
        printed = invoke("schema", what)
        assert printed.exit_code == 0
        assert json.loads(printed.output) == json.loads((ROOT / "specs" / file).read_text(encoding="utf-8"))


def test_disagreeing_methods_end_with_4(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The exact gaps are falsified by a millimetre: the other method must notice, and nothing may be made."""
    from dataclasses import replace

    from headergen.geometry.distance import cones as measure

    honest = measure.body_to_index

    def falsified(*arguments: object) -> object:
        nearest = honest(*arguments)  # type: ignore[arg-type]
        return replace(nearest, value=nearest.value + 1.0)

    monkeypatch.setattr(measure, "body_to_index", falsified)
    done = invoke("build", BOGBEAN, "--out", tmp_path)
    assert done.exit_code == 4
    assert "disagree" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["withybed", "glasswort_left", "glasswort_right"])
def test_every_demo_is_clear(name: str, tmp_path: Path) -> None:
    done = called("check", ROOT / "specs" / f"{name}.yaml", "--report", tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    report = json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    lengths = [run["developed_length_mm"] for run in report["runs"]]
    assert max(lengths) - min(lengths) <= 2.0 and report["findings"] == []


OTHER_BANK = """\
format: 1
mirror_of: one.yaml
job: {title: Other, revision: A, date: 2026-03-14}
units: mm
bank: {offset: 20, way: staggered, mirror: {origin: [0, -300, 0]}}
"""


def test_a_mirrored_bank_builds_and_names_what_it_came_from(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    (tmp_path / "one.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "two.yaml").write_text(OTHER_BANK, encoding="utf-8")
    done = called("build", "two.yaml", cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    made_from = json.loads((tmp_path / "out" / "two" / "manifest.json").read_text(encoding="utf-8"))["made_from"]
    assert set(made_from) == {"one.yaml", "two.yaml"}


def test_resolve_prints_or_writes_but_never_overwrites(tmp_path: Path) -> None:
    spec = ROOT / "specs" / "glasswort_left.yaml"
    printed = invoke("resolve", spec)
    assert printed.exit_code == 0 and printed.output.startswith("# yaml-language-server")
    target = tmp_path / "full.yaml"
    assert invoke("resolve", spec, "--to", target).exit_code == 0
    assert target.read_text(encoding="utf-8") == printed.output
    assert invoke("resolve", spec, "--to", target).exit_code == 2
    assert invoke("resolve", tmp_path / "nowhere.yaml").exit_code == 3


def test_banks_says_how_alike_they_are() -> None:
    said = invoke("banks", ROOT / "specs" / "glasswort_left.yaml", ROOT / "specs" / "glasswort_right.yaml")
    assert said.exit_code == 0
    assert "Collector main: -24.00 mm forward" in said.output and "deviates at most 24.00 mm" in said.output
    assert invoke("banks", ROOT / "specs" / "glasswort_left.yaml", "nowhere.yaml").exit_code == 3


def test_mesh_says_what_a_scan_holds(tmp_path: Path) -> None:
    scan = ROOT / "shared" / "chassis" / "glasswort_scan.stl"
    done = called("mesh", str(scan), "--beside", str(ROOT / "specs" / "glasswort_scanned.yaml"))
    assert done.returncode == 0, done.stderr
    assert "triangles that are there twice" in done.stdout and "Open: " in done.stdout
    lines = {line.split(":")[0].strip(): line for line in done.stdout.splitlines() if line.startswith("  in ")}
    assert set(lines) == {"in mm", "in cm", "in m", "in in", "in ft"}
    assert "from the nearest port or bore" in lines["in mm"]


def test_mesh_of_a_file_that_is_none(tmp_path: Path) -> None:
    broken = tmp_path / "cut.stl"
    broken.write_bytes(b"scan".ljust(80) + b"\2\0\0\0" + bytes(60))
    for file, words in (
        (broken, "byte 144"),
        (tmp_path / "none.stl", "there is no file"),
        (ROOT / "README.md", "the formats are .stl"),
    ):
        done = called("mesh", str(file))
        assert done.returncode == 3 and words in done.stderr and "Traceback" not in done.stderr
