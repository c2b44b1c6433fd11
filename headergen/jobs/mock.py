"""The jobs of the fit mock: its parts, its pictures, its sheet."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.jobs.outcome import Missing, NotMade, Report, buildable, cannot_render
from headergen.jobs.picture import JUDGED, PICTURE_AGAIN, RENDERER, drawn_at_last, renderer
from headergen.jobs.process import Failure, Work, words_of
from headergen.jobs.schedule import Answers, Step
from headergen.model import Header, MockSettings, Result
from headergen.store.files import keep, taken, tidy, users_folder
from headergen.store.keys import key_of_values

MOCK, MOCK_AGAIN, GUIDE = "mock", "mock again", "mock pictures"  # steps; the first also names child and folder
MOCK_SCRATCH = ".parts.npz"
FORMAT = 2  # increased when what is kept of a mock changes
MOST_KEPT = 200_000_000  # bytes of kept mocks
LIBRARIES = ("ezdxf", "highspy", "manifold3d", "numpy", "scipy", "vtk")


def mock_steps(
    result: Result, settings: MockSettings, without: frozenset[str], folder: Path, report: Report
) -> tuple[Step, ...]:
    """Make the fit mock in its own folder, and its pictures only if the machine has already drawn one.

    `result` is that of the check. If made parts add the first errors, the notice on the mock's files is not known yet,
    so the mock is made again.
    """
    header, target = buildable(result.header, without), folder / MOCK

    def first(_: Answers) -> Work | None:
        key = key_of_mock(header, settings, errors_of(result))
        kept = None if key is None else taken(kept_mocks(), key, _read_files)
        if kept is None:
            return make(errors_of(result))
        for name, content in kept.items():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            (target / name).write_bytes(content)
        return None

    def make(errors: int) -> Work:
        return _make_mock, (header, settings, errors, target)

    def again(answers: Answers) -> Work | None:
        errors = errors_of(answers[JUDGED])
        if isinstance(answers[MOCK], Failure) or errors == errors_of(result):
            return None
        shutil.rmtree(target, ignore_errors=True)
        return make(errors)

    def draw(answers: Answers) -> Work | None:
        made = answers[MOCK_AGAIN] or answers[MOCK]
        if made is None or isinstance(made, Failure) or isinstance(drawn_at_last(answers), Failure):
            return None
        return _make_guide, (header, made, errors_of(answers[JUDGED]), target)

    return (
        Step(MOCK, first, MOCK, heard=lambda *progress: report(*progress)),
        Step(MOCK_AGAIN, again, MOCK, (MOCK, JUDGED), heard=lambda *progress: report(*progress)),
        Step(GUIDE, draw, RENDERER, (MOCK_AGAIN, PICTURE_AGAIN), heard=lambda *progress: report(*progress)),
    )


def key_of_mock(header: Header, settings: MockSettings, errors: int) -> str | None:
    """The key of everything that a mock, its pictures and its sheet are made from."""
    return key_of_values((FORMAT, header, settings, errors, renderer()), LIBRARIES)


def kept_mocks() -> Path:
    return users_folder("mocks")


def _read_files(kept: Mapping[str, Any]) -> dict[str, bytes]:
    """The files of a kept mock by their names. Raises ValueError for a name that leads out of the folder."""
    for name in kept:
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts:
            raise ValueError(f"{name} is no file of a mock")
    return {name: content.tobytes() for name, content in kept.items()}


def _keep_mock(key: str | None, folder: Path) -> None:
    if key is not None:
        files = sorted(path for path in folder.rglob("*") if path.is_file())
        named = {path.relative_to(folder).as_posix(): np.frombuffer(path.read_bytes(), np.uint8) for path in files}
        keep(kept_mocks(), key, named)
        tidy(kept_mocks(), MOST_KEPT)


def begin_mock() -> None:
    """What a child loads before there is work."""
    import headergen.mock.build  # noqa: F401


def errors_of(result: Result) -> int:
    return sum(finding.level == "error" for finding in result.findings)


def finish_mock(answers: Answers, folder: Path, made_from: tuple[Header, MockSettings]) -> NotMade:
    """Write the sheet of a mock whose steps are done; return what was not made.

    A mock that fails stops nothing else.
    """
    from headergen.outputs.mock_sheet import write_mock_sheet

    facts, pictures = answers[MOCK_AGAIN] or answers[MOCK], answers[GUIDE]
    if facts is None:  # taken as it was kept
        return ()
    if isinstance(facts, Failure):
        shutil.rmtree(folder / MOCK, ignore_errors=True)
        return (Missing("fit mock", facts.why, failed=True),)
    (folder / MOCK / MOCK_SCRATCH).unlink(missing_ok=True)
    failed = tuple(Missing(f"{what} of the fit mock", why, failed=True) for what, why in facts.failed)
    drawn = pictures is not None and not isinstance(pictures, Failure)
    said = replace(facts, together=pictures[0], pictures=pictures[1]) if drawn else facts
    saddled = {each.run for each in facts.saddles}
    files = [(name, f"{PurePosixPath(file).stem}_saddles.png") for name, _, file in said.pictures if name in saddled]
    said = replace(said, saddle_pictures=tuple(files))
    write_mock_sheet(folder / MOCK / "mock.md", said)
    if drawn:
        if not failed:
            _keep_mock(key_of_mock(*made_from, facts.errors), folder / MOCK)
        return failed
    why = pictures or Failure("the picture of the header failed already")
    return (*failed, Missing("pictures of the fit mock", cannot_render(why)))


def _make_mock(header: Header, settings: MockSettings, errors: int, folder: Path, report: Report) -> Any:
    """The facts for the sheet of the mock. Raises MockError if a mock cannot be printed with its settings."""
    from headergen.mock.build import make_mock
    from headergen.mock.kept import users_kept_mock_parts
    from headergen.mock.part import in_place
    from headergen.outputs.dxf import write_plate_dxf
    from headergen.outputs.mock_sheet import MockFacts
    from headergen.outputs.stl import write_stl

    failed: list[tuple[str, str]] = []
    store = users_kept_mock_parts()
    mock = make_mock(header, settings, report, lambda name, error: failed.append((name, words_of(error))), store)
    store.tidy()
    parts = folder / "parts"
    parts.mkdir(parents=True)
    for part in mock.printed:
        write_stl(parts / f"{part.name}.stl", part.mesh, f"fit mock {part.name}")
    title = f"{header.draft.job.title} {header.draft.job.revision}{', NOT CLEARED' if errors else ''}"
    plates = write_plates(folder, f"{title}: fit mock", "plate", (mock.printed, mock.placed))
    write_plates(folder, f"{title}: fit coupon", "coupon", (mock.coupon, mock.coupon_placed))
    for plate in (plate for pair in mock.pairs for plate in pair.plates):
        write_plate_dxf(folder / f"{plate.name}.dxf", plate, title, header.draft.units)
    meshes = {part.name: in_place(part) for part in mock.printed if part not in mock.adapters} | dict(mock.steel)
    arrays = {f"{name} {what}": getattr(m, what) for name, m in meshes.items() for what in ("vertices", "faces")}
    np.savez(folder / MOCK_SCRATCH, **arrays)
    said = MockFacts(header.draft.job, errors, mock.settings, mock.facts, plates, mock.notes, mock.pairs, mock.cuts)
    said = replace(
        said,
        order=mock.order,
        pieces=mock.pieces,
        straights=mock.straights,
        hours=mock.hours,
        saddles=mock.saddle_facts,
        seats=mock.seats,
        runs_after=tuple(run.name for run in header.runs if not run.is_primary),
        hours_for=mock.hours_for,
    )
    return replace(said, failed=tuple(failed), units=header.draft.units, flanges=len(header.draft.flanges))


def _make_guide(
    header: Header, facts: Any, errors: int, folder: Path, rooms: Any, report: Report
) -> tuple[str, tuple[tuple[str, str, str], ...]]:
    """The files of the pictures: the one of all parts, and those of the runs. `facts`: those of the sheet."""
    from headergen.outputs.picture.guide import draw_guide
    from headergen.outputs.picture.shown import ShownPart
    from headergen.outputs.picture.together import draw_together

    with np.load(folder / MOCK_SCRATCH) as arrays:
        names = dict.fromkeys(key.rpartition(" ")[0] for key in arrays.files)
        pairs = {name: (arrays[f"{name} vertices"], arrays[f"{name} faces"]) for name in names}
    meshes = {name: TriangleMesh(*pair, closed=True) for name, pair in pairs.items()}
    known = {part.name: (part.kind, part.runs, part.collector) for part in facts.parts}
    known |= {straight.name: ("steel", (straight.run,), "") for straight in facts.straights}
    parts = {name: ShownPart(mesh, *known[name]) for name, mesh in meshes.items()}
    together = draw_together(folder, header, parts, errors, rooms)
    said = draw_guide(folder, header, parts, errors, lambda done, total: report(GUIDE, done, total), rooms)
    return together, said


def write_plates(folder: Path, title: str, name: str, standing: tuple[Sequence[Any], Sequence[Any]]) -> int:
    """One 3MF a build plate, of parts and where each is placed; how many there are."""
    from headergen.outputs.threemf import OnBed, write_3mf

    pairs = list(zip(*standing, strict=True))
    count: int = max((place.plate for _, place in pairs), default=0)
    for number in range(1, count + 1):
        here = [OnBed(p.name, p.mesh, place.turn, place.shift) for p, place in pairs if place.plate == number]
        write_3mf(folder / f"{name}_{number}.3mf", f"{title}, plate {number} of {count}", here)
    return count
