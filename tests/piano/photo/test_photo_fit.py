"""What a fit is made from: what is refused, what is doubted, and what distances alone can tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rimside.errors import BadInput
from rimside.piano.photo.fit import fit
from rimside.piano.photo.plane import error_mm, frame_for
from rimside.piano.photo.scene import CLICK_PX, Distance, Picture, Scene, Sighting, Target
from tests.piano.photo.simulated import TrueCamera

CAMERA = TrueCamera(width_px=2000, height_px=1500, focal_px=1500.0)
PLACES = {
    "a": (100.0, 250.0), "b": (1100.0, 300.0), "c": (150.0, 2000.0), "d": (700.0, 1500.0), "e": (600.0, 280.0),
    "f": (80.0, 1100.0),
}  # fmt: skip


def clicked(names: str, *, stated: str | None = None, distances: tuple[Distance, ...] = ()) -> Scene:
    """A scene of points at which somebody pointed exactly."""
    known = names if stated is None else stated
    return Scene(
        pictures=(Picture(name="hall", camera="phone", width_px=2000, height_px=1500),),
        targets=tuple(Target(id=n, at_mm=PLACES[n] if n in known else None, error_mm=0.5) for n in names),
        sightings=tuple(
            Sighting(picture="hall", target=n, px=(pixel(n),), error_px=CLICK_PX / 4.0) for n in names
        ),
        distances=distances,
    )  # fmt: skip


def pixel(name: str) -> tuple[float, float]:
    x, y = CAMERA.seen(np.array([[*PLACES[name], 0.0]]))[0]
    return float(x), float(y)


def refused(scene: Scene) -> BadInput:
    with pytest.raises(BadInput) as caught:
        fit(scene)
    return caught.value


def test_points_without_markers_serve_too() -> None:
    """Six points with known places, and every other point of the plane is found."""
    view = fit(clicked("abcdef")).views["hall"]
    probe = np.array([[500.0, 900.0, 0.0], [300.0, 1700.0, 0.0]])
    assert np.abs(view.seen(probe) - CAMERA.seen(probe)).max() < 0.5


def test_distances_place_what_has_no_place() -> None:
    """Two points have a place, the tape runs between all of them, and the picture tells which of two mirrors it is."""
    names = "abcde"
    rows = tuple(
        Distance(a=a, b=b, mm=float(np.hypot(*np.subtract(PLACES[a], PLACES[b]))), error_mm=0.5)
        for number, a in enumerate(names)
        for b in names[number + 1 :]
    )
    found = fit(clicked(names, stated="ab", distances=rows)).places_mm
    for name in "cde":
        assert found[name] == pytest.approx(PLACES[name], abs=1.5)


def test_distances_that_leave_the_figure_loose_are_refused() -> None:
    """A chain a, c, d, e, a of four readings is a linkage: it can be folded, and nothing else says how."""
    chain = [("a", "c"), ("c", "d"), ("d", "e"), ("e", "a")]
    rows = tuple(
        Distance(a=a, b=b, mm=float(np.hypot(*np.subtract(PLACES[a], PLACES[b]))), error_mm=0.5) for a, b in chain
    )
    error = refused(clicked("abcde", stated="ab", distances=rows))
    assert "do not fix" in error.what
    assert error.where[-1] in "cde"


def test_a_place_that_contradicts_the_picture_is_named() -> None:
    """One point of six is written 60 mm off: it heads the doubts, and the others hardly appear."""
    scene = clicked("abcdef")
    wrong = tuple(
        replace(t, at_mm=(t.at_mm[0], t.at_mm[1] + 60.0)) if t.id == "d" and t.at_mm else t for t in scene.targets
    )
    doubts = fit(replace(scene, targets=wrong)).doubts
    assert doubts[0].what in ("y of d", "d in hall")
    assert doubts[0].sigmas > 5.0


def test_a_consistent_scene_leaves_no_doubt() -> None:
    """Nothing is doubted where nothing is wrong."""
    assert fit(clicked("abcdef")).doubts == ()


def test_three_points_are_too_few() -> None:
    """Three points leave the view open."""
    assert "too few" in refused(clicked("abc")).what


def test_points_on_one_line_are_refused() -> None:
    """Four points along a line say nothing of what lies beside it."""
    scene = clicked("abcd")
    line = {name: (200.0 + 100.0 * n, 500.0 + 200.0 * n) for n, name in enumerate("abcd")}
    targets = tuple(replace(target, at_mm=line[target.id]) for target in scene.targets)
    seen = CAMERA.seen(np.array([[*line[name], 0.0] for name in "abcd"]))
    sightings = tuple(
        replace(one, px=((float(x), float(y)),)) for one, (x, y) in zip(scene.sightings, seen, strict=True)
    )
    error = refused(replace(scene, targets=targets, sightings=sightings))
    assert "one line" in error.what


def test_the_plan_needs_an_anchor() -> None:
    """Distances alone do not say where on the piano all this is."""
    assert "anchor" in refused(clicked("abcde", stated="a")).what


def test_a_point_that_nothing_ties_down() -> None:
    """Fewer than four places and no distances: the point is named."""
    error = refused(clicked("abcde", stated="abc"))
    assert "d" in error.where or "too few known" in error.what


def test_the_error_grows_away_from_what_was_measured() -> None:
    """Between the points the plan is surer than far outside them, and nothing is known outside the picture."""
    found = fit(clicked("abcdef"))
    inside, outside, unseen = error_mm(found, "hall", np.array([[500.0, 900.0], [1150.0, 1900.0], [9000.0, 0.0]]))
    assert inside < outside < unseen
    assert unseen >= 1e5


@pytest.mark.parametrize("area", [((0.0, 0.0), (0.0, 100.0)), ((0.0, 100.0), (100.0, 0.0))])
def test_an_empty_area_is_refused(area: tuple[tuple[float, float], tuple[float, float]]) -> None:
    """A stretch of the plan without breadth, or upside down."""
    with pytest.raises(BadInput, match="empty"):
        frame_for(*area, 1.0)


def test_a_picture_too_fine_is_refused() -> None:
    """A tenth of a millimetre over a whole concert grand would be 400 megapixels."""
    with pytest.raises(BadInput, match="too large"):
        frame_for((0.0, 0.0), (1500.0, 2740.0), 0.1)
