"""From a job file and its photographs to a picture of the string plane in mm, and the file that says what it shows."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rimside.errors import BadInput
from rimside.files.atomic import read_file, write_file
from rimside.files.job import Report
from rimside.files.schema_photo import MarkerTable, PhotoTable, PictureTable, PointTable, photo_from_toml
from rimside.piano.photo import camera
from rimside.piano.photo.fit import Fit, fit
from rimside.piano.photo.header import size_px
from rimside.piano.photo.markers import true_side_mm
from rimside.piano.photo.plane import Frame, Rectified, frame_for, rectified, with_grid
from rimside.piano.photo.scene import CORNER_PX, Distance, Picture, Scene, Sighting, Target

if TYPE_CHECKING:
    from rimside.piano.photo.camera import Image

FORMAT = "rimside-picture/1"
BLURRED_PX = 6.0
"""Edges wider than this are blurred: a quarter of a marker's square in the smallest picture that is any good."""
SOFT_PX = 3.5
"""The same for a whole picture in which no marker is found; noise makes edges look sharper than they are there."""
MARGIN_MM = 250.0
"""How far the rectified picture goes beyond the outermost markers and points, unless an area is given."""


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What became of the photographs; `unknown` are markers that the job does not list."""

    name: str
    picture: Path
    report: Path
    fit: Fit
    done: Rectified
    string_plane_mm: float
    unknown: tuple[str, ...]

    @property
    def frame(self) -> Frame:
        """The rectified picture's place in the plan."""
        return self.done.frame


def measure(job: str, out: str | None, report: Report) -> Measured:
    """Rectify the photographs of a job, and write NAME-plan.png and NAME-plan.toml.

    Parameters
    ----------
    job : the job file; pictures are looked for beside it.
    out : the folder for what is written, the job's own when None.

    Raises
    ------
    BadInput : a slip in the job file, a picture that cannot be used, too little to measure by.
    """
    path = Path(job)
    table = photo_from_toml(read_file(path, job), job)
    side_mm = true_side_mm(table.marker_side_mm, table.printed_edge_mm or 100.0)
    images, pictures, sightings, strangers = {}, [], [], set()
    for number, one in enumerate(table.picture):
        report(f"picture {one.file}", 0.6 * number / len(table.picture))
        image = _image(path.parent / one.file, one.file)
        name = one.file if one.file not in images else f"{one.file} again"
        images[name] = image
        pictures.append(Picture(name=name, camera=one.camera, width_px=image.shape[1], height_px=image.shape[0]))
        seen, unknown = _sightings(table, one, name, image)
        sightings += seen
        strangers |= unknown
    scene = _scene(table, side_mm, pictures, sightings)
    report("fit", 0.7)
    found = fit(scene)
    report("plan", 0.8)
    done = rectified(found, images, _frame(table, found))
    report("plan", 1.0)
    return _written(path, out, table, found, done, tuple(sorted(strangers)))


def _image(path: Path, where: str) -> Image:
    data = read_file(path, where)
    size_px(data, where)
    return camera.decode(data, where)


def _sightings(table: PhotoTable, one: PictureTable, name: str, image: Image) -> tuple[list[Sighting], set[str]]:
    """What a picture shows of the job's markers and points, and which markers nobody asked for."""
    found = camera.find_markers(image) if table.marker else ()
    listed = {marker.id for marker in table.marker}
    known = [marker for marker in found if marker.id in listed]
    _check_markers(table, one, image, [marker.id for marker in known])
    for marker in known:
        wide_px = camera.edge_width_px(image, marker.corners_px)
        if wide_px > BLURRED_PX:
            raise _blurred(one.file, f"the edges of marker {marker.id} are {wide_px:.0f} pixels wide")
    seen = [Sighting(picture=name, target=str(m.id), px=m.corners_px, error_px=CORNER_PX) for m in known]
    names = {point.name for point in table.point}
    for point in one.points:
        if point.name not in names:
            raise BadInput("a point that the file does not tell", where=f"{one.file}, points", value=point.name,
                           allowed=", ".join(sorted(names)) or "[[point]] with this name")  # fmt: skip
        x, y = point.at
        if not (0 <= x < image.shape[1] and 0 <= y < image.shape[0]):
            raise BadInput("lies outside the picture", where=f"{one.file}, point {point.name}", value=point.at,
                           allowed=f"0 to {image.shape[1] - 1}, 0 to {image.shape[0] - 1}")  # fmt: skip
        seen.append(Sighting(picture=name, target=point.name, px=((x, y),), error_px=point.plus_minus_px))
    return seen, {str(marker.id) for marker in found if marker.id not in listed}


def _check_markers(table: PhotoTable, one: PictureTable, image: Image, ids: list[int]) -> None:
    twice = [number for number, count in Counter(ids).items() if count > 1]
    if twice:
        raise BadInput("two markers have one number", where=one.file, value=twice[0],
                       hint="each number is printed once; take one of the two away")  # fmt: skip
    if table.marker and not ids and not one.points:
        wide_px = camera.sharpest_edge_px(image)
        if wide_px > SOFT_PX:
            raise _blurred(one.file, f"its sharpest edges are {wide_px:.0f} pixels wide")
        raise BadInput("no marker of the job was found in the picture", where=one.file,
                       allowed="markers whole, flat, with their white margin, at least 30 pixels wide",
                       hint="more light from above, no shine on the paper, nothing over the markers")  # fmt: skip


def _blurred(where: str, why: str) -> BadInput:
    return BadInput(f"the photograph is blurred: {why}", where=where, allowed=f"{BLURRED_PX:.0f} pixels",
                    hint="hold the telephone still, tap on a marker to focus, give more light")  # fmt: skip


def _scene(table: PhotoTable, side_mm: float, pictures: list[Picture], sightings: list[Sighting]) -> Scene:
    """Only what some picture shows, and the distances between such targets."""
    seen = {one.target for one in sightings}
    targets = [_target(table, str(one.id), one, side_mm) for one in table.marker]
    targets += [_target(table, one.name, one, None) for one in table.point]
    names = {target.id for target in targets}
    distances = []
    for row in table.distance:
        a, b = map(str, row.between)
        if missing := {a, b} - names:
            raise BadInput("a distance to something that the file does not tell", where="distance", value=min(missing),
                           allowed=", ".join(sorted(names)))  # fmt: skip
        distances.append(Distance(a=a, b=b, mm=row.mm, error_mm=row.plus_minus_mm))
    return Scene(
        pictures=tuple(pictures),
        targets=tuple(target for target in targets if target.id in seen),
        sightings=tuple(sightings),
        distances=tuple(one for one in distances if {one.a, one.b} <= seen),
    )


def _target(table: PhotoTable, name: str, row: MarkerTable | PointTable, side_mm: float | None) -> Target:
    return Target(
        id=name,
        at_mm=None if row.at is None else (row.at[0], row.at[1]),
        error_mm=row.plus_minus_mm,
        above_mm=0.0 if row.height_mm is None else row.height_mm - table.string_plane_mm,
        above_error_mm=row.height_plus_minus_mm,
        side_mm=side_mm,
    )


def _frame(table: PhotoTable, found: Fit) -> Frame:
    if table.area is not None:
        low, high = table.area
        return frame_for((low[0], low[1]), (high[0], high[1]), table.mm_per_pixel)
    xs, ys = zip(*found.places_mm.values(), strict=True)
    low_mm = (round(min(xs) - MARGIN_MM, -1), round(min(ys) - MARGIN_MM, -1))
    return frame_for(low_mm, (round(max(xs) + MARGIN_MM, -1), round(max(ys) + MARGIN_MM, -1)), table.mm_per_pixel)


def _written(
    job: Path, out: str | None, table: PhotoTable, found: Fit, done: Rectified, unknown: tuple[str, ...]
) -> Measured:
    folder = job.parent if out is None else Path(out)
    picture, report = folder / f"{table.name}-plan.png", folder / f"{table.name}-plan.toml"
    made = Measured(name=table.name, picture=picture, report=report, fit=found, done=done,
                    string_plane_mm=table.string_plane_mm, unknown=unknown)  # fmt: skip
    write_file(picture, camera.png(with_grid(done)), str(picture))
    write_file(report, picture_toml(made).encode("utf-8"), str(report))
    return made


def picture_toml(made: Measured) -> str:
    """The file beside the picture: how its pixels lie in the plan, and how sure that is."""
    frame, done = made.frame, made.done
    lines = [
        "# Made by rimside measure photo. Pixel (0, 0) is the upper left; x grows with columns, y falls with rows.",
        f'format = "{FORMAT}"',
        f'image = "{made.picture.name}"',
        f"columns = {frame.columns}",
        f"rows = {frame.rows}",
        f"mm_per_pixel = {frame.mm_per_pixel:g}",
        f"origin_mm = [{frame.x_mm:.2f}, {frame.y_mm:.2f}]",
        f"string_plane_mm = {made.string_plane_mm:g}",
        f"error_mm = {done.middle_error_mm:.2f}     # standard error of a point in the middle",
        f"worst_mm = {done.worst_error_mm:.2f}     # and where it is least sure",
        f"left_over_px = {made.fit.rms_px:.2f}",
    ]
    for name, view in made.fit.views.items():
        lines += ["", "[[view]]", f"picture = {_quoted(name)}", f"focal_px = {view.focal_px:.1f}",
                  f"radial = [{view.radial[0]:.4f}, {view.radial[1]:.4f}]"]  # fmt: skip
    for name, (x, y) in made.fit.places_mm.items():
        lines += ["", "[[target]]", f"name = {_quoted(name)}", f"at = [{x:.2f}, {y:.2f}]"]
    for doubt in made.fit.doubts:
        lines += ["", "[[doubt]]", f"what = {_quoted(doubt.what)}", f"off = {doubt.off:.2f}     # {doubt.unit}",
                  f"sigmas = {doubt.sigmas:.1f}"]  # fmt: skip
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
