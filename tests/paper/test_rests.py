"""Names of rests and the landmarks beside them."""

from __future__ import annotations

from dataclasses import replace

from rimside.kit import Implement
from rimside.paper.rests import landmark, named_rests, rest_of
from rimside.pitch import Key
from tests.paper import fixture


def implement(name: str, x_mm: float, y_mm: float, key: int | None = None) -> Implement:
    return Implement(id=name, kind="felt hammer", rest_x_mm=x_mm, rest_y_mm=y_mm, key=None if key is None else Key(key))


def test_rests_are_named_after_the_nearest_place_and_lettered() -> None:
    """Two rests in front of S3 are S3a and S3b, one in front of S4 is S4a; names are unique."""
    three = tuple(implement(f"h{n}", -88.0, y) for n, y in enumerate((760.0, 830.0, 1067.0)))
    casting = replace(fixture.casting(), implements=three)
    assert [rest.name for rest in named_rests(casting)] == ["S3a", "S3b", "S4a"]


def test_implements_that_lie_together_share_a_rest() -> None:
    """Within a finger's breadth of each other they have one name."""
    pair = (implement("h1", -88.0, 767.0), implement("h2", -88.0, 775.0))
    rests = rest_of(replace(fixture.casting(), implements=pair))
    assert rests["h1"] == rests["h2"]


def test_a_line_bow_has_no_rest_of_its_own() -> None:
    """It lives threaded at its course."""
    bow = implement("bow", 500.0, 900.0, key=40)
    casting = replace(fixture.casting(), implements=(bow,))
    assert named_rests(casting) == ()
    assert landmark(fixture.piano(), bow) == "on its course"


def test_a_rest_near_a_strut_or_spot_is_told_by_it_and_another_by_its_place() -> None:
    """On the treble strut: by that strut; out on the straight ledge: at the place's ledge."""
    assert landmark(fixture.piano(), implement("h", 980.0, 700.0)) == "by treble strut"
    assert landmark(fixture.piano(), implement("h", -88.0, 767.0)) == "ledge at S3"
