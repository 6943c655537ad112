"""H11: nothing is done that this piano's owner has not allowed."""

from __future__ import annotations

from typing import Any

import pytest

from rimside.casting.rules.h11_permission import forbidden
from rimside.kit import PERMISSIONS, TECHNIQUES
from rimside.piano.model import Permissions
from rimside.score.model import Mute, Technique, Touch
from tests.casting.judging import world
from tests.casting.solving import solved, uncast_rules
from tests.casting.worlds import figure, toy_kit, toy_piano

EVERYTHING = frozenset(PERMISSIONS)


def test_holds_where_everything_is_allowed() -> None:
    """On a piano that allows everything a pluck is cast."""
    assert not solved(world(figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 2.0)), depth=1).uncast


@pytest.mark.parametrize("technique", [t for t, row in TECHNIQUES.items() if row.permission])
def test_broken_each_technique_without_its_permission(technique: Technique) -> None:
    """Without the one permission of its row a figure is barred by H11, whatever else is allowed."""
    row = TECHNIQUES[technique]
    keys: tuple[int, ...] | str = "frame, bass" if row.fits == "spot" else (15,) if row.fits == "wound" else (40,)
    allowed = Permissions(allowed=EVERYTHING - {str(row.permission)})
    casting = solved(world(figure("A", technique, keys, 0.0, 2.0), piano=toy_piano(permissions=allowed)), depth=1)
    assert uncast_rules(casting) == [("A", "H11")]
    assert PERMISSIONS[str(row.permission)] in casting.uncast[0].reason


@pytest.mark.parametrize(
    ("changes", "permission"),
    [({"touch": Touch(k=1, n=2)}, "touch"), ({"mute": Mute.FINGER}, "touch"), ({"mute": Mute.MOULDED}, "mutes")],
)
def test_edge_the_exact_permission_of_a_finger_or_mute(changes: dict[str, Any], permission: str) -> None:
    """A finger on a string asks for "touch" and a moulded mute for "mutes", and for no more."""
    what = figure("A", Technique.FINGER_PLUCK, (40,), 0.0, 2.0, **changes)
    row = toy_kit().rows[what.technique]
    assert forbidden(what, row, Permissions(allowed=frozenset({"plectra", permission}))) is None
    assert forbidden(what, row, Permissions(allowed=EVERYTHING - {permission})) is not None


def test_edge_one_spot_and_not_the_other() -> None:
    """Only the spot that is named is closed."""
    strict = Permissions(allowed=EVERYTHING, forbidden_spots=frozenset({"rim, treble"}))
    beats = [figure(spot, Technique.BEATER, spot, 0.0, 2.0) for spot in ("frame, bass", "rim, treble")]
    assert uncast_rules(solved(world(*beats, piano=toy_piano(permissions=strict)), depth=1)) == [("rim, treble", "H11")]


def test_keys_need_no_permission() -> None:
    """The keyboard may always be played."""
    keys = figure("A", Technique.KEYS, (40,), 0.0, 2.0)
    nothing = Permissions(allowed=frozenset())
    assert not solved(world(keys, piano=toy_piano(permissions=nothing)), depth=1).uncast
