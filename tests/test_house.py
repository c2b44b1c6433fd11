"""The rooms import only what the design's table allows, and the command line starts without anything heavy."""

from __future__ import annotations

import ast
import importlib.util
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from tests.lots import together

PACKAGE = Path(__file__).resolve().parents[1] / "headergen"
NOUNS = {"model"}
MAY_IMPORT = {
    "model": set(),
    "words": NOUNS,
    "store": set(),
    "geometry": {"model"},
    "parts": NOUNS | {"words", "geometry"},
    "spec": NOUNS | {"words", "parts", "geometry", "store"},
    "checks": NOUNS | {"parts", "words", "geometry"},
    "shop": NOUNS | {"words", "geometry", "parts"},
    "hand": NOUNS | {"words", "geometry", "shop"},
    "built": NOUNS | {"words", "geometry", "shop", "hand"},
    "solve": NOUNS | {"words", "geometry", "parts", "spec", "shop", "checks"},
    "solids": NOUNS | {"parts", "geometry", "shop", "store"},
    "mock": NOUNS | {"words", "store", "geometry", "shop"},
    "show": NOUNS | {"geometry"},
    "outputs": NOUNS | {"words", "geometry", "parts", "show"},
    "pipeline": NOUNS | {"parts", "words", "geometry", "spec", "solve", "checks", "shop", "hand", "built"},
    "routing": NOUNS | {"words", "geometry", "spec", "solve", "checks", "shop", "pipeline"},
    "script": NOUNS | {"words", "parts", "pipeline", "solids"},
    "jobs": NOUNS | {"geometry", "store", "parts", "solids", "mock", "show", "outputs", "solve"},
    "build": NOUNS | {"checks", "pipeline", "jobs", "show", "outputs"},
    "study": NOUNS | {"checks", "spec", "pipeline", "routing", "shop", "solve", "store", "jobs"},
    "commands": NOUNS | {"words", "study", "store", "pipeline", "routing", "jobs", "build", "outputs", "spec", "solve"},
}
MODULES = sorted(PACKAGE.rglob("*.py"))


def test_the_table_for_readers_is_this_one() -> None:
    text = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8").split("| room | may import |")[1]
    rows = re.findall(r"^\| ([a-z, ]+) \| (.*) \|$", text.split("\n\n")[0], re.MULTILINE)
    shown = {room: set(re.findall(r"[a-z]+", may.split(";")[0])) for rooms, may in rows for room in rooms.split(", ")}
    assert shown == MAY_IMPORT


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(tree: ast.AST) -> set[str]:
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            names |= {f"{node.module}.{a.name}" for a in node.names} if node.module == "headergen" else {node.module}
    return names


def test_benchmarks_name_what_is_there() -> None:
    """No test runs them, so that nothing else would tell that a function they measure has gone."""
    for path in sorted((PACKAGE.parent / "tests" / "benchmarks").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("headergen."):
                module = importlib.import_module(node.module)
                for name in (alias.name for alias in node.names):
                    assert hasattr(module, name) or importlib.util.find_spec(f"{node.module}.{name}"), (path.name, name)


@together("path", MODULES)
def test_module_keeps_to_the_table(path: Path) -> None:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    if parts == ("__init__",):
        assert imported(parsed(path)) <= {"__future__", "headergen.script"}  # which is light itself
        return
    room = parts[0]
    for name in imported(parsed(path)):
        top, _, rest = name.partition(".")
        assert top not in ("cadquery", "OCP") or room == "solids", f"{name} outside solids/"
        if top != "headergen" or not rest or rest == "__version__":
            continue
        other = rest.split(".")[0]
        assert other == room or other in MAY_IMPORT[room], f"{room} imports {name}"
        if room == "outputs" and other == "outputs":
            assert rest.split(".")[1] == parts[1], f"the writer {parts[1]} imports another: {name}"


@pytest.mark.parametrize("module", ["headergen", "headergen.commands", "headergen.build", "headergen.jobs.parts"])
def test_start_is_light(module: str) -> None:
    heavy = ("OCP", "cadquery", "vtk", "vtkmodules", "trimesh", "scipy", "fcl")
    code = f"import sys, {module}; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_child_that_makes_solids_loads_the_kernel_without_cadquery() -> None:
    """cadquery takes as long again to load as the kernel below it; only a user's script asks for it."""
    asked = "[m for m in ('OCP', 'cadquery', 'vtk', 'vtkmodules', 'fcl') if m in sys.modules]"
    code = f"import sys; from headergen.jobs.parts import begin_kernel; begin_kernel(); print({asked})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['OCP']"


def test_no_test_asserts_an_elapsed_time() -> None:
    """It depends on what else the machine does; benchmarks compare two times of one run."""
    clocks = {"perf_counter", "monotonic", "process_time"}
    for path in Path(__file__).parent.rglob("test_*.py"):
        text = path.read_text(encoding="utf-8")
        if path == Path(__file__) or not any(clock in text for clock in clocks):
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Assert):
                names = {each.attr for each in ast.walk(node.test) if isinstance(each, ast.Attribute)}
                assert not names & clocks, f"{path.name}:{node.lineno}"


def test_top_level_is_what_the_design_names() -> None:
    root = PACKAGE.parent
    listed = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True, check=False).stdout
    tops = {line.split("/")[0] for line in listed.split("\n") if line}
    if not tops:
        pytest.skip("not a git checkout")
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "headergen", "specs", "tests", "out", "shared"}
    assert {top for top in tops if not top.startswith(".")} <= allowed


def test_a_name_is_one_class_and_errors_are_called_errors() -> None:
    """Private ones too; what is raised can be told by its name."""
    found: dict[str, list[str]] = {}
    for path in MODULES:
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.ClassDef):
                found.setdefault(node.name, []).append(path.name)
                bases = [ast.unparse(base) for base in node.bases]
                raised = any(base.endswith(("Error", "Exception")) for base in bases)
                assert not raised or node.name.endswith("Error"), node.name
    assert {name: places for name, places in found.items() if len(places) > 1} == {}


def test_no_two_files_of_tests_are_imported_under_one_name() -> None:
    """A folder of tests that is no package has its files imported by their bare names: of two, one cannot be run."""
    files = (PACKAGE.parent / "tests").rglob("*.py")
    bare = [path.name for path in files if not (path.parent / "__init__.py").exists() and path.name != "conftest.py"]
    assert {name for name in bare if bare.count(name) > 1} == set()
