"""The units of a mesh and its placement: as the spec says, by pairs of points, or by its size and place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from headergen.geometry.arrays import Array
from headergen.geometry.frames import axes_matrix
from headergen.geometry.mesh.index import TriangleIndex, distance_to_index
from headergen.geometry.mesh.registration import RigidFit, fit_rigid
from headergen.model import FileFacts, FitSpread, Frame, MeshRef, MeshUnits, OtherUnit, PairResidual, SpecPath
from headergen.model.scan import BESIDE, LARGEST_MESH, SMALLEST_MESH
from headergen.spec.units import MILLIMETRES
from headergen.words.numbers import with_unit

EXTENT_TOLERANCE = 0.05  # of the given extent: the error of a tape measure, or a bumper left out
FARTHEST = 5_000.0  # mm from every port and bore; a mesh farther off was placed wrongly
ALL_UNITS: tuple[MeshUnits, ...] = ("mm", "cm", "m", "in", "ft")
SAME_SIZE = 0.2  # relative difference of distances between pairs beyond which no unit fits
GROWN = 0.005  # relative scale beyond which a scan, not its points, is taken to be wrong
FEW = 3  # with so few points their accuracy cannot be estimated, and is assumed
TELLING = 0.5  # a mirrored or scaled fit whose residual is below this share of the plain one's counts as the true one


class PlacementError(Exception):
    """A readable mesh that cannot be what the spec says; `at` is the path from the item to the key in question."""

    def __init__(self, at: SpecPath, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.at, self.message, self.hint = at, message, hint


@dataclass(frozen=True)
class PlacedMesh:
    units: MeshUnits
    units_from: Literal["spec", "format", "points", "size", "extent"]
    frame: Frame
    residuals: tuple[PairResidual, ...] = ()
    spread: FitSpread | None = None
    tells_mirror: bool = True
    others: tuple[OtherUnit, ...] = ()

    @property
    def scale(self) -> float:
        return MILLIMETRES[self.units]


def place(ref: MeshRef, index: TriangleIndex, facts: FileFacts, header: Array, job: str = "mm") -> PlacedMesh:
    """Units and frame of a mesh; `index` is in its own numbers, `header` (n, 3) are the ports and bores.

    `job`: "mm" or "in", for the lengths in messages. Raises PlacementError where the units are unclear or cannot be the
    stated ones, and where a mesh does not fit its pairs of points.
    """
    if ref.pairs:
        return _by_pairs(ref, facts, job)
    said = ref.units or facts.units
    if said is None:
        units = _by_size(ref, index, header, job)
        return PlacedMesh(units, "size" if ref.extent is None else "extent", ref.placement)
    known: Literal["spec", "format"] = "spec" if ref.units else "format"
    if ref.extent is not None:
        check_extent(float(index.size.max()), ref.extent, said, job)
        return PlacedMesh(said, known, ref.placement)
    others = _others(ref, index, header, said)
    _check_size(float(index.size.max()), said, others, job)
    return PlacedMesh(said, known, ref.placement, others=others)


def frame_in(ref: MeshRef, units: MeshUnits) -> Frame:
    """The frame of a mesh if it were in these units. Raises PlacementError for points on a line."""
    return _fitted(ref, MILLIMETRES[units]).frame if ref.pairs else ref.placement


def _fitted(ref: MeshRef, scale: float) -> RigidFit:
    scan, engine = (np.array([getattr(pair, side) for pair in ref.pairs]) for side in ("scan", "engine"))
    try:
        return fit_rigid(scan * scale, engine)
    except ValueError:
        raise PlacementError(
            ("placement", "points"),
            "cannot be placed by these points: they lie on a line, and it may turn about that",
            "add a point well off the line",
        ) from None


def _by_pairs(ref: MeshRef, facts: FileFacts, job: str) -> PlacedMesh:
    ratio = _fitted(ref, 1.0).scale
    units, units_from = _units_of(ref, facts, ratio, job)
    fit = _fitted(ref, MILLIMETRES[units])
    _check_fit(fit, ref, units, job)
    residuals = tuple(PairResidual(pair.name, off) for pair, off in zip(ref.pairs, fit.residuals, strict=True))
    few = len(ref.pairs) <= FEW
    spread = replace(fit.spread, assumed=ref.within if few else 0.0)
    return PlacedMesh(units, units_from, fit.frame, residuals, spread, fit.tells_mirror)


def _units_of(
    ref: MeshRef, facts: FileFacts, ratio: float, job: str
) -> tuple[MeshUnits, Literal["spec", "format", "points"]]:
    """The units of a mesh whose points are `ratio` times as far apart on the engine, in mm, as in the file."""
    fitting = next((unit for unit in ALL_UNITS if abs(ratio / MILLIMETRES[unit] - 1) < SAME_SIZE), None)
    said = ref.units or facts.units
    if said is not None and (fitting is None or fitting == said):
        return said, "spec" if ref.units else "format"
    if said is not None:
        message = f"is said to be in {said}, but its points are as far apart as they would be in {fitting}"
        raise PlacementError(("placement", "points"), message, f"units: {fitting}, or a wrong number among the points?")
    if fitting is None:
        apart = f"{ratio / MILLIMETRES['in']:.4g} in" if job == "in" else f"{ratio:.4g} mm"
        message = f"has points that are {apart} apart on the engine for every 1 in the file, which is no unit"
        raise PlacementError(
            ("placement", "points"), message, "check the points; a scaled scan must be exported at its true size"
        )
    return fitting, "points"


def _check_fit(fit: RigidFit, ref: MeshRef, units: MeshUnits, job: str) -> None:
    if fit.rms <= ref.within:
        return
    at: SpecPath = ("placement", "points")
    if fit.mirrored_rms < TELLING * fit.rms and not fit.in_a_plane:
        message = (
            f"is mirrored: placed as it is its points miss by {with_unit(fit.rms, job)}, mirrored by "
            f"{with_unit(fit.mirrored_rms, job)}"
        )
        raise PlacementError(
            at, message, "export it with right-handed axes, or look for left and right mixed up in the points"
        )
    if abs(fit.scale - 1) > GROWN and fit.scaled_rms < TELLING * fit.rms:
        message = (
            f"is scaled: in {units} its points miss by {with_unit(fit.rms, job)}, but {fit.scale:.4f} times as large "
            f"by {with_unit(fit.scaled_rms, job)}"
        )
        raise PlacementError(at, message, "export it at its true size; a gap measured to a scaled scan would be wrong")


def _by_size(ref: MeshRef, index: TriangleIndex, header: Array, job: str) -> MeshUnits:
    """The only units in which the mesh has the size of a chassis, or of `extent`, and is near the header."""
    all_units = [_in_unit(ref, index, header, unit) for unit in ALL_UNITS]
    fitting = [each for each in all_units if _may_be(each, ref.extent)]
    if len(fitting) == 1:
        return fitting[0].units
    said = "; ".join(_would_be(each, job) for each in (fitting or all_units))
    hint = "say units: mm, cm, m, in or ft" + ("" if ref.extent is not None else "; or extent, its largest dimension")
    raise PlacementError(("mesh",), f"does not say its units, and they cannot be told: {said}", hint)


def _would_be(each: OtherUnit, job: str) -> str:
    return f"in {each.units} it would be {_length(each.size, job)} long, {_length(each.away, job)} from the header"


def _in_unit(ref: MeshRef, index: TriangleIndex, header: Array, unit: MeshUnits) -> OtherUnit:
    """A mesh as it would be in a unit, placed as the spec says; `away`: its distance from the nearest port or bore."""
    scale = MILLIMETRES[unit]
    local = (header - np.array(ref.placement.origin)) @ axes_matrix(ref.placement).T
    return OtherUnit(
        unit, float(index.size.max()) * scale, float(distance_to_index(local / scale, index).min()) * scale
    )


def _others(ref: MeshRef, index: TriangleIndex, header: Array, said: MeshUnits) -> tuple[OtherUnit, ...]:
    """Other units that are possible besides the stated ones."""
    sizes = {unit: float(index.size.max()) * MILLIMETRES[unit] for unit in ALL_UNITS if unit != said}
    plausible = [unit for unit, size in sizes.items() if SMALLEST_MESH <= size <= LARGEST_MESH]
    return tuple(each for each in (_in_unit(ref, index, header, unit) for unit in plausible) if _may_be(each, None))


def _may_be(each: OtherUnit, extent: float | None) -> bool:
    as_large = SMALLEST_MESH <= each.size <= LARGEST_MESH if extent is None else _matches(each.size, extent)
    return as_large and each.away < BESIDE


def check_extent(numbers: float, extent: float, units: MeshUnits, job: str) -> None:
    """`numbers`: the largest dimension in the file, in its own unit. Raises PlacementError."""
    size = numbers * MILLIMETRES[units]
    if not _matches(size, extent):
        fitting = [unit for unit in ALL_UNITS if _matches(numbers * MILLIMETRES[unit], extent)]
        hint = f"it would match with units: {fitting[0]}" if fitting else "is it the right file?"
        message = f"is {_length(size, job)} in its largest dimension, but extent says {_length(extent, job)}"
        raise PlacementError(("extent",), message, hint)


def _check_size(numbers: float, units: MeshUnits, others: tuple[OtherUnit, ...], job: str) -> None:
    """Raises PlacementError for units that make a mesh too large, or so small that it must be in other units."""
    size = numbers * MILLIMETRES[units]
    if size <= LARGEST_MESH and (size >= SMALLEST_MESH or not others):
        return
    message = f"in {units} is {_length(size, job)} in its largest dimension, too "
    hint = "; ".join(f"units: {each.units} would make it {_length(each.size, job)}" for each in others)
    small = "small to be true" if size < SMALLEST_MESH else "large to be true"
    raise PlacementError(("units",), message + small, (f"{hint}; or " if hint else "") + "if that is right, add extent")


def check_near(away: float, job: str) -> None:
    """Raises PlacementError for a mesh too far off to be near any header."""
    if away > FARTHEST:
        hint = "place it with placement: {origin: [x, y, z]}, or check the origin it was exported with"
        message = f"lies {_length(away, job)} from the nearest port, and no part of it is nearer"
        raise PlacementError(("placement",), message, hint)


def _matches(size: float, extent: float) -> bool:
    return abs(size - extent) <= EXTENT_TOLERANCE * extent


def _length(millimetres: float, job: str) -> str:
    if job == "in":
        inches = millimetres / MILLIMETRES["in"]
        return f"{inches:.4g} in" if inches < 1000 else f"{inches / 12:.5g} ft"
    return f"{millimetres:.4g} mm" if millimetres < 10_000 else f"{millimetres / 1000:.5g} m"


def z_up(ref: MeshRef) -> MeshRef:
    """The mesh reference for a mesh turned from y up to z up: its points, given in the file's axes, are turned too."""
    pairs = tuple(replace(pair, scan=(pair.scan[0], -pair.scan[2], pair.scan[1])) for pair in ref.pairs)
    return replace(ref, pairs=pairs)
