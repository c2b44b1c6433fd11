"""What the README and the guides show: a spec that reads, figures that come out, links and options that are there."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from headergen.commands.line import commands
from tests.cli.calls import without_pictures

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDES = sorted((ROOT / "specs").glob("guide_*.yaml"))
CLEAR = [guide for guide in GUIDES if guide.stem != "guide_find"]  # that one has paths still to be found


def run(*words: object) -> str:
    """What a command prints; it must find nothing wrong."""
    done = CliRunner().invoke(commands, [str(word) for word in words])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def two_pipes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    [text] = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
    assert len(text.splitlines()) == 25
    spec = tmp_path_factory.mktemp("readme") / "two_pipes.yaml"
    spec.write_text(text, encoding="utf-8")
    return spec


def test_the_spec_in_the_readme_gives_the_lines_below_it(two_pipes: Path) -> None:
    shown = README.split("among its lines are\n\n")[1]
    lines = [" ".join(line.split()) for line in shown.split("\n\n")[0].splitlines()]
    printed = [" ".join(line.split()) for line in run("check", two_pipes).splitlines()]
    assert len(lines) == 3 and set(lines) <= set(printed)


@pytest.mark.slow
def test_the_spec_in_the_readme_builds_the_files_in_its_table(two_pipes: Path, tmp_path: Path) -> None:
    run("build", two_pipes, "--out", tmp_path, "--mock")
    rows = re.findall(r"^\| (`.*?) \|.*$", README, re.MULTILINE)
    named = {name for row in rows for name in re.findall(r"`([^`]+)`", row)}
    elsewhere = {"transition_1.dxf", "outlet_ring_main.dxf"}  # where a job has them
    assert len(named) > 10 and elsewhere <= named
    assert {name for name in named - elsewhere if not any((tmp_path / "two_pipes").glob(name))} == set()


@pytest.mark.parametrize("guide", CLEAR, ids=lambda guide: guide.stem)
def test_a_guide_is_clear(guide: Path) -> None:
    assert "Clear: no" in run("check", guide)


def test_the_guide_to_paths_has_them_to_find() -> None:
    done = CliRunner().invoke(commands, ["check", str(ROOT / "specs" / "guide_find.yaml")])
    assert done.exit_code == 1 and "run headergen route" in " ".join(done.output.split())


@pytest.mark.slow
@pytest.mark.series
@pytest.mark.parametrize("guide", CLEAR, ids=lambda guide: guide.stem)
def test_a_guide_builds(guide: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    run("build", guide, "--out", tmp_path)
    made = {path.name for path in (tmp_path / guide.stem).iterdir()}
    assert {"header.step", "report.md", "primary_1.stl"} <= made


@pytest.mark.slow
def test_the_guide_to_paths_is_found_and_builds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    without_pictures(monkeypatch.setattr)
    spec = shutil.copy(ROOT / "specs" / "guide_find.yaml", tmp_path)
    run("route", spec, "--rounds", 25)
    run("build", tmp_path / "guide_find_routed.yaml", "--out", tmp_path / "out")


def test_every_guide_is_in_the_readme_and_every_link_leads_somewhere() -> None:
    links = set(re.findall(r"\]\(([^)#]+)\)", README))
    assert {guide.relative_to(ROOT).as_posix() for guide in GUIDES} <= links
    assert [link for link in links if not (ROOT / link).exists()] == []


def test_every_option_is_explained_and_the_documents_name_no_other() -> None:
    options = {
        name: parameter
        for command in commands.commands.values()
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for name in parameter.opts
    }
    assert [name for name, option in options.items() if not option.help] == []
    texts = [README, *(guide.read_text(encoding="utf-8") for guide in GUIDES)]
    said = {name for text in texts for name in re.findall(r"(?<![-\w])--[a-z]+", text)}
    assert said and said <= {*options, "--help"}


def test_every_command_in_a_guide_is_one() -> None:
    for guide in GUIDES:
        called = re.findall(r"^#   headergen ([a-z]+)", guide.read_text(encoding="utf-8"), re.MULTILINE)
        assert called and set(called) <= set(commands.commands), guide.name
