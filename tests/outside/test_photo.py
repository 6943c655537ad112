"""Photographs by an independent camera: OpenCV's projection and distortion draw them, the code under test measures."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from rimside import cli
from rimside.errors import BadInput
from rimside.files import measure_photo
from rimside.files.schema_trace import picture_from_file
from rimside.paper.marker_sheet import marker_sheet
from rimside.piano.photo import camera
from rimside.piano.photo.fit import Fit, fit
from rimside.piano.photo.markers import corners_mm, true_side_mm
from rimside.piano.photo.plane import error_mm
from rimside.piano.photo.scene import CORNER_PX, Picture, Scene, Sighting, Target
from tests.piano.photo.simulated import Floats, Image, TrueCamera, TrueMarker, photograph

PLACES = (
    (100.0, 250.0), (1100.0, 300.0), (150.0, 2000.0), (700.0, 1500.0), (600.0, 280.0),
    (80.0, 1100.0), (900.0, 900.0), (450.0, 1850.0), (350.0, 800.0), (620.0, 1150.0),
)  # fmt: skip
PROBE = np.array([(x, y) for x in np.linspace(50, 1150, 9) for y in np.linspace(260, 2050, 11) if y < 2500 - 1.2 * x])


def view(radial: tuple[float, float] = (0.0, 0.0)) -> TrueCamera:
    return TrueCamera(width_px=2400, height_px=1800, focal_px=1800.0, radial=radial)


def laid(count: int, above_mm: float = 0.0) -> tuple[TrueMarker, ...]:
    """Markers here and there; every second one lies higher than the strings."""
    return tuple(
        TrueMarker(id=n, x_mm=x, y_mm=y, turn_deg=25.0 * n, above_mm=above_mm if n % 2 else 0.0)
        for n, (x, y) in enumerate(PLACES[:count])
    )


@lru_cache
def taken(count: int, radial: tuple[float, float], above_mm: float) -> Image:
    return photograph(view(radial), laid(count, above_mm))


def measured(
    count: int, radial: tuple[float, float], above_mm: float, *, tape_mm: float = 0.0, told_above: bool = True
) -> Fit:
    """The fit of one picture, with tape errors of a given size drawn once and for all."""
    image, rng = taken(count, radial, above_mm), np.random.default_rng(count)
    found = camera.find_markers(image)
    assert [one.id for one in found] == list(range(count))
    targets = tuple(
        Target(
            id=str(m.id),
            at_mm=(m.x_mm + rng.normal(0.0, tape_mm), m.y_mm + rng.normal(0.0, tape_mm)),
            error_mm=max(tape_mm, 0.2),
            above_mm=m.above_mm if told_above else 0.0,
            side_mm=60.0,
        )
        for m in laid(count, above_mm)
    )
    seen = tuple(Sighting(picture="a", target=str(m.id), px=m.corners_px, error_px=CORNER_PX) for m in found)
    picture = Picture(name="a", camera="c", width_px=image.shape[1], height_px=image.shape[0])
    return fit(Scene(pictures=(picture,), targets=targets, sightings=seen))


def rms_mm(found: Fit, truth: TrueCamera) -> float:
    """How far points of the string plane come out from where they are, by the fitted view of their true pixels."""
    seen = truth.seen(np.column_stack([PROBE, np.zeros(len(PROBE))]))
    off = on_plane(found, seen) - PROBE
    return float(np.sqrt(np.mean(np.sum(off**2, axis=1))))


def on_plane(found: Fit, seen_px: Floats) -> Floats:
    """Where pixels lie on the string plane, by Newton's method on the fitted view."""
    at = np.tile([600.0, 1000.0], (len(seen_px), 1))
    for _ in range(12):
        world = np.column_stack([at, np.zeros(len(at))])
        here = found.views["a"].seen(world)
        slopes = np.stack([found.views["a"].seen(world + step) - here for step in np.eye(3)[:2]], axis=-1)
        at = at - np.linalg.solve(slopes, (here - seen_px)[:, :, None])[:, :, 0]
    return at


@pytest.mark.parametrize(("count", "limit_mm"), [(4, 0.4), (6, 0.3), (10, 0.25)])
@pytest.mark.parametrize("radial", [(0.0, 0.0), (-0.05, 0.01)])
def test_markers_on_the_strings(count: int, limit_mm: float, radial: tuple[float, float]) -> None:
    """Exact places: a fraction of a millimetre, with and without a bent lens.

    A plain homography of the four bent markers is off by 5.6 mm (measured on pictures drawn likewise, 12 megapixels).
    """
    assert rms_mm(measured(count, radial, 0.0), view(radial)) < limit_mm


@pytest.mark.parametrize(("count", "limit_mm"), [(4, 0.5), (10, 0.3)])
def test_markers_of_known_height(count: int, limit_mm: float) -> None:
    """Half of the markers lie 80 mm over the strings, and the job says so."""
    assert rms_mm(measured(count, (-0.05, 0.01), 80.0), view((-0.05, 0.01))) < limit_mm


def test_heights_that_nobody_told_are_not_hidden() -> None:
    """The same 80 mm kept from the fit: it is far off, and says so, by doubts or by what its pixels leave over."""
    found = measured(6, (0.0, 0.0), 80.0, told_above=False)
    assert rms_mm(found, view()) > 3.0
    assert any("height" in doubt.what for doubt in found.doubts)


def test_tape_errors_are_weighed_not_copied() -> None:
    """2 mm of tape error on each coordinate: ten markers do better than the tape, and the stated error is fair."""
    found = measured(10, (-0.05, 0.01), 0.0, tape_mm=2.0)
    off_mm, said = rms_mm(found, view((-0.05, 0.01))), error_mm(found, "a", PROBE)
    assert off_mm < 2.4
    assert 0.5 < off_mm / float(np.sqrt(np.mean(said**2))) < 2.0


def test_stated_errors_are_honest_over_many_draws() -> None:
    """Eight draws of 1.5 mm tape errors, corners straight from OpenCV: the stated error meets the real one."""
    truth, off, said = view((-0.03, 0.0)), [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        corners = [truth.seen(np.array([(*c, 0.0) for c in corners_mm(60.0, x, y, 0.0)])) for x, y in PLACES[:6]]
        scene = Scene(
            pictures=(Picture(name="a", camera="c", width_px=2400, height_px=1800),),
            targets=tuple(
                Target(id=str(n), at_mm=(x + rng.normal(0, 1.5), y + rng.normal(0, 1.5)), error_mm=1.5, side_mm=60.0)
                for n, (x, y) in enumerate(PLACES[:6])
            ),
            sightings=tuple(
                Sighting(picture="a", target=str(n), px=tuple(map(tuple, four + rng.normal(0, 0.3, (4, 2)))),
                         error_px=0.3)
                for n, four in enumerate(corners)
            ),
        )  # fmt: skip
        found = fit(scene)
        off.append(rms_mm(found, truth) ** 2)
        said.append(np.mean(error_mm(found, "a", PROBE) ** 2))
    assert 0.6 < np.sqrt(np.mean(off) / np.mean(said)) < 1.4


def test_the_printed_sheet_has_its_size_and_its_markers() -> None:
    """The PDF, rendered by PDFium at 300 dpi: OpenCV finds every marker, and its sides measure 60 mm to 0.2 mm."""
    import pypdfium2

    document, ids = pypdfium2.PdfDocument(marker_sheet(count=7)), []
    for page in document:
        image = np.asarray(page.render(scale=300.0 / 72.0).to_pil().convert("RGB"))[:, :, ::-1].copy()
        for marker in camera.find_markers(image):
            ids.append(marker.id)
            four = np.asarray(marker.corners_px)
            sides = np.linalg.norm(four - np.roll(four, -1, axis=0), axis=1) * 25.4 / 300.0
            assert sides == pytest.approx([60.0] * 4, abs=0.2)
            assert four[0][0] < four[1][0]
    assert sorted(ids) == list(range(7))


# --- the whole command ------------------------------------------------------------------------------------------------


def job(folder: Path, image: Image | bytes, *, edge: str = "printed_edge_mm = 100.0", extra: str = "") -> Path:
    """A job with six markers and one picture."""
    data = (
        image if isinstance(image, bytes) else cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()
    )
    (folder / "a.jpg").write_bytes(data)
    markers = "\n".join(f"[[marker]]\nid = {n}\nat = [{x}, {y}]" for n, (x, y) in enumerate(PLACES[:6]))
    path = folder / "hall.toml"
    path.write_text(
        f'format = "rimside-photo/1"\nname = "hall"\nstring_plane_mm = 885\n{edge}\nmm_per_pixel = 2.0\n'
        f'[[picture]]\nfile = "a.jpg"\n{markers}\n{extra}'
    )
    return path


def refused(path: Path) -> BadInput:
    with pytest.raises(BadInput) as caught:
        measure_photo.measure(str(path), None, lambda stage, share: None)
    assert sorted(p.name for p in path.parent.iterdir()) == ["a.jpg", "hall.toml"], "nothing was written"
    return caught.value


def test_the_picture_that_is_written_is_the_plan(tmp_path: Path) -> None:
    """Markers found again in the rectified picture lie at their true places, to a pixel of 2 mm, also by its report
    as a trace reads it."""
    path = job(tmp_path, taken(6, (-0.05, 0.01), 0.0))
    made = measure_photo.measure(str(path), None, lambda stage, share: None)
    again = {m.id: np.mean(m.corners_px, axis=0) for m in camera.find_markers(made.done.image)}
    assert len(again) == 6
    for number, (column, row) in again.items():
        x, y = made.frame.x_mm + 2.0 * column, made.frame.y_mm - 2.0 * row
        assert (x, y) == pytest.approx(PLACES[number], abs=2.0)
        marked = picture_from_file(made.report).point((column, row), "mark")
        assert (marked.x_mm, marked.y_mm) == pytest.approx((x, y), abs=0.1)
    assert cli.main(["measure", "photo", str(path), "--quiet"]) == cli.DONE


def test_a_blurred_photograph_is_refused(tmp_path: Path) -> None:
    """Out of focus so far that edges take up many pixels, whether or not markers are still found."""
    for blur_px in (4.0, 12.0):
        error = refused(job(tmp_path, photograph(view(), laid(6), blur_px=blur_px)))
        assert "blurred" in error.what


def test_two_markers_of_one_number_are_refused(tmp_path: Path) -> None:
    """Sheet 3 was printed twice and laid twice."""
    twin = TrueMarker(id=3, x_mm=400.0, y_mm=1200.0)
    error = refused(job(tmp_path, photograph(view(), (*laid(6), twin))))
    assert (error.what, error.value) == ("two markers have one number", 3)


def test_no_marker_in_a_sharp_picture(tmp_path: Path) -> None:
    """A sharp picture of strings alone."""
    assert "no marker" in refused(job(tmp_path, photograph(view(), ()))).what


def test_one_marker_is_too_few(tmp_path: Path) -> None:
    """The others were not in the picture."""
    assert "only one marker" in refused(job(tmp_path, photograph(view(), laid(1)))).what


def test_the_printed_edge_is_asked_for(tmp_path: Path) -> None:
    """Left out, in inches, or a sheet fitted to the page."""
    image = taken(6, (0.0, 0.0), 0.0)
    assert "printed_edge_mm" in refused(job(tmp_path, image, edge="")).where
    error = refused(job(tmp_path, image, edge="printed_edge_mm = 3.94"))
    assert "inches" in error.hint
    assert "100 %" in refused(job(tmp_path, image, edge="printed_edge_mm = 93.0")).hint


def test_a_sheet_printed_a_little_small_is_corrected() -> None:
    """97 % is a printer's habit: the side that counts is the printed one."""
    assert true_side_mm(60.0, 97.0) == pytest.approx(58.2)


@pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff\xc0\x00\x11\x08\x00\x10\x00\x10" + b"\x00" * 40])
def test_files_that_are_no_pictures(tmp_path: Path, data: bytes) -> None:
    """Empty, words, and a JPEG of which only the head is there."""
    assert refused(job(tmp_path, data)).where == "a.jpg"


def test_a_marker_nobody_told_is_left_out_and_named(tmp_path: Path) -> None:
    """Marker 6 lies in the piano but not in the job."""
    path = job(tmp_path, photograph(view(), laid(7)))
    made = measure_photo.measure(str(path), None, lambda stage, share: None)
    assert made.unknown == ("6",)
    assert "6" not in made.fit.places_mm


def test_a_point_off_the_picture(tmp_path: Path) -> None:
    """A point of the job's picture that lies beyond its edge."""
    extra = '[[point]]\nname = "p"\nat = [1.0, 2.0]\n'
    path = job(tmp_path, taken(6, (0.0, 0.0), 0.0), extra=extra)
    path.write_text(
        path.read_text().replace('file = "a.jpg"', 'file = "a.jpg"\npoints = [{ name = "p", at = [9999, 3] }]')
    )
    assert "outside the picture" in refused(path).what
