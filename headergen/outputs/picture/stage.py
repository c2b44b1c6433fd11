"""The VTK part of a picture: the mesh at each pixel, the lit photograph, letters and the bytes of the PNG."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import vtkmodules.vtkRenderingFreeType
import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (both register what implements the classes below)
from numpy.typing import NDArray
from vtkmodules.util import numpy_support
from vtkmodules.vtkCommonCore import vtkLogger, vtkObject, vtkPoints, vtkUnsignedCharArray
from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkImageData, vtkPolyData
from vtkmodules.vtkFiltersCore import vtkCleanPolyData, vtkPolyDataNormals
from vtkmodules.vtkFiltersSources import vtkPlaneSource
from vtkmodules.vtkIOImage import vtkPNGWriter
from vtkmodules.vtkRenderingCore import (
    vtkActor,
    vtkLight,
    vtkPolyDataMapper,
    vtkRenderer,
    vtkRenderWindow,
    vtkTextProperty,
    vtkTextRenderer,
    vtkTexture,
    vtkWindowToImageFilter,
)
from vtkmodules.vtkRenderingOpenGL2 import vtkOpenGLRenderer

from headergen.geometry.frames import add, cross, unit
from headergen.geometry.mesh.triangles import Points, TriangleMesh
from headergen.model import Vec
from headergen.outputs.picture.crops import MARGIN, Crop
from headergen.outputs.picture.edges import sharp_edges
from headergen.outputs.picture.view import UP, VIEW_ANGLE, View, picture_axes
from headergen.show.meshes import thinned

Image = NDArray[np.floating[Any]]  # (height, width, 3), 0…1, first row on top; 32 bits are enough, and quicker
Coverage = NDArray[np.floating[Any]]  # (height, width), 0…1
Owners = NDArray[np.integer[Any]]  # (height, width): 0 for nothing, 1 for the first mesh, 2 for the second…

# VTK has no types for these
as_vtk: Any = numpy_support.numpy_to_vtk
as_vtk_ids: Any = numpy_support.numpy_to_vtkIdTypeArray
as_numpy: Any = numpy_support.vtk_to_numpy

THIN = 1500  # triangles of a body a few dozen pixels wide
SHARP = 35  # degrees between faces above which an edge is drawn
CLOSED = "closed"  # name of an array
STEEL: Vec = (0.80, 0.81, 0.82)
CHASSIS: Vec = (0.19, 0.20, 0.22)
LINE: Vec = (0.07, 0.08, 0.10)
BACKGROUND: Vec = (0.955, 0.960, 0.965)
# soft boxes of light in the room: azimuth, elevation, half width, half height (radians), power
LIGHT_BOXES = ((0.8, 0.7, 0.5, 0.25, 1.8), (3.6, 0.5, 0.7, 0.3, 1.2), (5.2, 0.9, 0.3, 0.3, 1.4))


def keep_quiet() -> None:
    """Stop VTK from complaining on stderr that there is no screen: none is needed."""
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    vtkObject.GlobalWarningDisplayOff()


def polydata(mesh: TriangleMesh) -> Any:
    """The mesh as VTK polydata; its vertices and faces are copied. Its field data say whether it is closed."""
    points, cells, data, closed = vtkPoints(), vtkCellArray(), vtkPolyData(), vtkUnsignedCharArray()
    closed.SetName(CLOSED)
    closed.InsertNextValue(mesh.closed)
    data.GetFieldData().AddArray(closed)
    points.SetData(as_vtk(np.ascontiguousarray(mesh.vertices, np.float64), deep=True))
    cells.SetData(3, as_vtk_ids(np.ascontiguousarray(mesh.faces, np.int64).ravel(), deep=True))
    data.SetPoints(points)
    data.SetPolys(cells)
    return data


def points_of(bodies: Sequence[Any]) -> Points:
    """(n, 3) vertices of some bodies (polydata)."""
    return np.concatenate([as_numpy(body.GetPoints().GetData()) for body in bodies])


@dataclass(frozen=True, eq=False)
class BodyStage:
    """A window with the actors of every body that was ever in it.

    The bodies are kept so that no other one gets the same id; the actors keep what they hold of the renderer, so that
    nothing is uploaded twice.
    """

    renderer: Any
    window: Any
    actors: dict[int, tuple[Any, list[Any]]] = field(default_factory=dict)

    def show(self, bodies: Sequence[Any], made: Callable[[Any], list[Any]]) -> list[list[Any]]:
        """Show these bodies (polydata) and no others; return their actors, from `made` for new bodies."""
        self.renderer.GetViewProps().RemoveAllItems()  # RemoveActor would release all that they hold
        for body in bodies:
            if id(body) not in self.actors:
                self.actors[id(body)] = (body, made(body))
        shown = [self.actors[id(body)][1] for body in bodies]
        for actor in (actor for actors in shown for actor in actors):
            self.renderer.AddActor(actor)
            actor.VisibilityOn()
        return shown


@dataclass(frozen=True, eq=False)
class Rooms:
    """The windows for pictures, used one after another: one with unlit colours, one with lights."""

    flat: BodyStage
    lit: BodyStage
    held: dict[int, tuple[TriangleMesh, Any]] = field(default_factory=dict)  # meshes as polydata
    coarse: dict[int, tuple[TriangleMesh, Any]] = field(default_factory=dict)  # the same, thinned

    def body(self, mesh: TriangleMesh) -> Any:
        """A mesh as polydata, the same object each time."""
        if id(mesh) not in self.held:
            self.held[id(mesh)] = (mesh, polydata(mesh))
        return self.held[id(mesh)][1]

    def thin(self, mesh: TriangleMesh) -> Any:
        """The same with at most THIN triangles, for the small pictures by which views are compared."""
        if id(mesh) not in self.coarse:
            self.coarse[id(mesh)] = (mesh, polydata(thinned(mesh, THIN)))
        return self.coarse[id(mesh)][1]


def opened() -> Rooms:
    """Empty rooms. If there is no GL, VTK ends the process at the first picture."""
    keep_quiet()
    flat, lit = vtkRenderer(), vtkOpenGLRenderer()
    flat.SetBackground(0, 0, 0)
    lit.SetBackground(*BACKGROUND)
    lit.UseImageBasedLightingOn()
    lit.SetEnvironmentTexture(_texture(_room().astype(np.float32)), False)
    lit.SetEnvironmentUp(*UP)
    lit.GetEnvMapLookupTable().SetLUTSize(128)  # the default of 1024 costs a second and makes no visible difference
    lit.GetEnvMapLookupTable().SetLUTSamples(128)  # nor do 1024 samples
    lit.GetEnvMapPrefiltered().SetPrefilterMaxSamples(32)  # of a room so soft, more look the same
    lit.UseSSAOOn()
    lit.SetSSAOKernelSize(32)  # 64 take a fifth longer to draw and look the same
    lit.SSAOBlurOn()
    lit.UseFXAAOn()
    return Rooms(BodyStage(flat, _window(flat)), BodyStage(lit, _window(lit)))


def warmed() -> Rooms:
    """Rooms in which a small picture was drawn, so that all shaders are compiled."""
    rooms = opened()
    corners = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0], [0, 0, 1]])
    faces = np.array([[1, 0, 2], [2, 0, 3], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    bodies = [polydata(TriangleMesh(corners * size, faces, True)) for size in (1.0, 0.5)]
    above = View((0.0, -5.0, 20.0), (0.0, 0.0, 0.0))
    photographs(bodies[:1], bodies[1:], above, (64, 48), rooms, [(slice(0, 48), slice(0, 64))])
    return rooms


def owners(
    bodies: Sequence[Any], views: Sequence[View], size: tuple[int, int], rooms: Rooms | None = None
) -> list[Owners]:
    """For each view, the number of the body (polydata) at each pixel: drawn unlit, coded as 256 · green + red."""
    room = (rooms or opened()).flat
    for number, [actor] in enumerate(room.show(bodies, _flat), 1):
        actor.GetProperty().SetColor(number % 256 / 255, number // 256 / 255, 0.0)
    room.window.SetSize(*size)
    images: list[Owners] = []
    for view in views:
        _aim(room.renderer, view)
        pixels = _pixels(room.window)
        images.append(pixels[..., 1] * np.uint16(256) + pixels[..., 0])
    return images


def photographs(
    tubes: Sequence[Any],
    chassis: Sequence[Any],
    view: View,
    size: tuple[int, int],
    rooms: Rooms | None = None,
    bare: Sequence[Crop] = (),
) -> tuple[Image, list[Image]]:
    """The lit picture of everything (polydata), and these crops of the same without the chassis, nor what is shaded by
    other bodies nearby: that takes half of the time, and what shows through the chassis is clearer without."""
    rooms = rooms or opened()
    room, renderer = rooms.lit, rooms.lit.renderer
    shown = room.show([*tubes, *chassis], _solid)
    for k, (surface, _) in enumerate(shown):
        _finish(surface, chassis=k >= len(tubes))
    low, high = _bounds(tubes)
    reach = float(np.linalg.norm(high - low))
    shadow = _shadow([*tubes, *chassis], (low, high), rooms)
    renderer.AddActor(shadow)
    _light(renderer, view, reach)
    renderer.SetSSAORadius(0.08 * reach)
    renderer.SetSSAOBias(0.001 * reach)
    room.window.SetSize(*size)
    _aim(renderer, view)
    whole = _pixels(room.window) / np.float32(255)
    for actor in (actor for actors in shown[len(tubes) :] for actor in actors):
        actor.VisibilityOff()
    renderer.UseSSAOOff()
    crops = [_cropped(room, crop, size) for crop in bare]
    renderer.UseSSAOOn()
    renderer.RemoveActor(shadow)
    return whole, crops


def lettering(text: str, size: int) -> Coverage:
    """Coverage of bold letters `size` pixels high, trimmed to their ink; characters not in the font show as boxes."""
    look, image, used = vtkTextProperty(), vtkImageData(), [0, 0]
    look.SetFontFamilyToArial()
    look.BoldOn()
    look.SetFontSize(size)
    look.SetColor(1, 1, 1)
    vtkTextRenderer.GetInstance().RenderString(look, text, image, used, 72, vtkTextRenderer.FreeType)
    width, height, _ = image.GetDimensions()
    if not text.strip() or not width * height:
        return np.zeros((1, 1))
    alpha = as_numpy(image.GetPointData().GetScalars()).reshape(height, width, 4)[::-1, :, 3] / 255.0
    rows, columns = np.flatnonzero(alpha.any(axis=1)), np.flatnonzero(alpha.any(axis=0))
    return np.array(alpha[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1])


def png(image: Image) -> bytes:
    """The bytes of a PNG file, without time or name."""
    data, writer = vtkImageData(), vtkPNGWriter()
    data.SetDimensions(image.shape[1], image.shape[0], 1)
    pixels = np.rint(255 * np.clip(image[::-1], 0, 1)).astype(np.uint8)
    data.GetPointData().SetScalars(as_vtk(np.ascontiguousarray(pixels).reshape(-1, 3), deep=True))
    writer.SetInputData(data)
    writer.SetCompressionLevel(4)  # the default of 5 takes half as long again, and saves 3 %
    writer.WriteToMemoryOn()
    writer.Write()
    return bytes(as_numpy(writer.GetResult()))


def blurred(mask: Coverage, sigma: float) -> Coverage:
    """The mask under a Gaussian of `sigma` pixels; beyond its border it is zero."""
    reach = math.ceil(3 * sigma)
    bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    bell /= bell.sum()
    for axis in (0, 1):
        mask = np.apply_along_axis(np.convolve, axis, mask, bell, "same")
    return mask


def _actor(source: Any, colour: Vec) -> Any:
    """An unlit actor in one colour, for polydata or for the output of a filter."""
    mapper, actor = vtkPolyDataMapper(), vtkActor()
    if isinstance(source, vtkPolyData):
        mapper.SetInputData(source)
    else:
        mapper.SetInputConnection(source.GetOutputPort())
    mapper.ScalarVisibilityOff()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*colour)
    actor.GetProperty().LightingOff()
    return actor


def _window(renderer: Any) -> Any:
    window = vtkRenderWindow()
    window.SetOffScreenRendering(1)
    window.SetMultiSamples(0)
    window.AddRenderer(renderer)
    return window


def _aim(renderer: Any, view: View) -> None:
    camera = renderer.GetActiveCamera()
    camera.SetPosition(*view.position)
    camera.SetFocalPoint(*view.focus)
    camera.SetViewUp(*view.up)
    camera.SetViewAngle(math.degrees(VIEW_ANGLE))
    camera.SetParallelProjection(view.half_height is not None)
    if view.half_height is not None:
        camera.SetParallelScale(view.half_height)
    renderer.ResetCameraClippingRange()
    near, far = camera.GetClippingRange()
    camera.SetClippingRange(max(near, 0.05 * camera.GetDistance()), far)  # nearer, depths are too coarse


def _cropped(room: BodyStage, crop: Crop, size: tuple[int, int]) -> Image:
    """A crop of the perspective picture for which the camera is aimed; little more than its own pixels are drawn."""
    (top, bottom), (left, right) = ((part.start, part.stop) for part in crop)
    width, height = right - left + 2 * MARGIN, bottom - top + 2 * MARGIN
    camera = room.renderer.GetActiveCamera()
    whole = camera.GetViewAngle()
    camera.SetViewAngle(2 * math.degrees(math.atan(math.tan(math.radians(whole) / 2) * height / size[1])))
    # from the middle of the picture to that of the crop, in halves of the crop
    camera.SetWindowCenter((left + right - size[0]) / width, (size[1] - top - bottom) / height)
    room.window.SetSize(width, height)
    pixels = _pixels(room.window)[MARGIN:-MARGIN, MARGIN:-MARGIN]
    camera.SetWindowCenter(0.0, 0.0)
    camera.SetViewAngle(whole)
    return pixels / np.float32(255)


def _pixels(window: Any) -> NDArray[np.uint8]:
    """(height, width, 3) pixels of the window, first row on top."""
    window.Render()
    grab = vtkWindowToImageFilter()
    grab.SetInput(window)
    grab.ReadFrontBufferOff()
    grab.ShouldRerenderOff()
    grab.Update()
    width, height, _ = grab.GetOutput().GetDimensions()
    flat = as_numpy(grab.GetOutput().GetPointData().GetScalars())
    return np.array(flat.reshape(height, width, 3)[::-1])


def _flat(body: Any) -> list[Any]:
    """A body in one colour."""
    actor = _actor(body, LINE)
    _cull(actor, body)
    return [actor]


def _cull(actor: Any, body: Any) -> None:
    """Leave out the back of a closed body: its front hides it."""
    actor.GetProperty().SetBackfaceCulling(body.GetFieldData().GetArray(CLOSED).GetValue(0))


def _solid(body: Any) -> list[Any]:
    """The lit surface of a body, and its sharp edges."""
    welded, normals = vtkCleanPolyData(), vtkPolyDataNormals()
    welded.SetInputData(body)
    welded.SetTolerance(0.0)
    normals.SetInputConnection(welded.GetOutputPort())
    normals.SetFeatureAngle(SHARP)
    normals.ConsistencyOff()
    surface = _actor(normals, STEEL)
    _cull(surface, body)
    welded.Update()
    outline = _actor(_edge_lines(welded.GetOutput()), LINE)
    outline.GetMapper().SetResolveCoincidentTopologyToPolygonOffset()
    # the default offset of 4 depth units shows lines through a tube's wall; 1 is enough
    outline.GetMapper().SetRelativeCoincidentTopologyLineOffsetParameters(0.0, 3.0)
    outline.GetProperty().SetLineWidth(1.5)
    return [surface, outline]


def _finish(surface: Any, chassis: bool) -> None:
    """The finish of steel, or of the chassis."""
    look = surface.GetProperty()
    look.SetColor(*(CHASSIS if chassis else STEEL))
    look.LightingOn()
    look.SetInterpolationToPBR()
    look.SetMetallic(0.0 if chassis else 1.0)
    look.SetRoughness(0.75 if chassis else 0.30)


def _edge_lines(body: Any) -> Any:
    """The sharp edges of a welded body as lines."""
    faces = as_numpy(body.GetPolys().GetConnectivityArray()).reshape(-1, 3).astype(np.int64)
    edges = sharp_edges(as_numpy(body.GetPoints().GetData()).astype(float), faces, math.cos(math.radians(SHARP)))
    lines, data = vtkCellArray(), vtkPolyData()
    lines.SetData(2, as_vtk_ids(np.ascontiguousarray(edges).ravel(), deep=True))
    data.SetPoints(body.GetPoints())
    data.SetLines(lines)
    return data


def _light(renderer: Any, view: View, reach: float) -> None:
    """The room of soft light boxes turned to the camera, and a lamp at its upper left."""
    toward = unit((view.position[0] - view.focus[0], view.position[1] - view.focus[1], 0.0))
    right, _ = picture_axes(toward, UP)
    renderer.SetEnvironmentRight(*cross(UP, toward))
    renderer.RemoveAllLights()
    lamp = vtkLight()
    lamp.SetPosition(*add(add(add(view.focus, right, -reach), toward, reach), UP, 2 * reach))
    lamp.SetFocalPoint(*view.focus)
    lamp.SetIntensity(0.5)
    renderer.AddLight(lamp)


def _room(width: int = 256, height: int = 128) -> Image:
    """The room as an equirectangular picture: a pale floor, a dark horizon, a bright ceiling and the light boxes."""
    rows, columns = np.mgrid[0:height, 0:width]
    lift = (rows / height - 0.5) * math.pi
    swing = columns / width * 2 * math.pi
    grey = 0.22 + np.where(lift > 0, 0.50, 0.34) * np.abs(np.sin(lift)) ** 1.5
    for bearing, rise, wide, tall, power in LIGHT_BOXES:
        away = np.angle(np.exp(1j * (swing - bearing)))
        grey = grey + power * np.exp(-((away / wide) ** 4 + ((lift - rise) / tall) ** 4))
    return np.repeat(grey[..., None], 3, axis=2)


def _texture(pixels: NDArray[Any]) -> Any:
    """A VTK texture of (height, width, channels), first row at the bottom."""
    height, width, channels = pixels.shape
    image, texture = vtkImageData(), vtkTexture()
    image.SetDimensions(width, height, 1)
    image.GetPointData().SetScalars(as_vtk(pixels.reshape(-1, channels), deep=True))
    texture.SetInputDataObject(image)
    texture.SetColorModeToDirectScalars()
    texture.MipmapOn()
    texture.InterpolateOn()
    return texture


def _bounds(bodies: Sequence[Any]) -> tuple[Points, Points]:
    """The lowest and the highest corner of the box around all of them."""
    bounds = np.array([body.GetBounds() for body in bodies])
    return bounds[:, 0::2].min(axis=0), bounds[:, 1::2].max(axis=0)


def _shadow(bodies: Sequence[Any], box: tuple[Points, Points], rooms: Rooms) -> Any:
    """A floor below everything, transparent except for a soft shadow of what is above it.

    `box` has the corners of the header's box: the floor is at most half its diagonal below.
    """
    low, high = box
    reach = float(np.linalg.norm(high - low))
    x, y = (low[:2] + high[:2]) / 2
    floor = max(_bounds(bodies)[0][2], low[2] - 0.5 * reach) - 0.02 * reach
    half = 1.5 * reach
    above = View((x, y, high[2] + 4 * reach), (x, y, floor), up=(0.0, 1.0, 0.0), half_height=half)
    [seen] = owners(bodies, [above], (512, 512), rooms)
    pixels = np.zeros((512, 512, 4), np.uint8)
    pixels[..., 3] = np.round(255 * 0.30 * blurred((seen[::-1] > 0).astype(float), 9))
    plane = vtkPlaneSource()
    plane.SetOrigin(x - half, y - half, floor)
    plane.SetPoint1(x + half, y - half, floor)
    plane.SetPoint2(x - half, y + half, floor)
    actor = _actor(plane, LINE)
    actor.SetTexture(_texture(pixels))
    actor.ForceTranslucentOn()
    return actor
