"""H11 as the judge reads it: the owner allows all that is done."""

from __future__ import annotations

from collections.abc import Iterator

from rimside.casting.judge.plan import Breach, Plan, Task, named
from rimside.kit import PERMISSIONS
from rimside.score.model import Mute


def breaches(plan: Plan) -> Iterator[Breach]:
    """What the owner has not allowed."""
    owner = plan.piano.permissions
    for task in plan.tasks:
        for name in sorted(_permissions(task) - owner.allowed):
            yield _h11(
                f"{named(task.figure)}: the owner has not allowed {PERMISSIONS.get(name, name)}.", task.figure.id
            )
        if task.figure.spot in owner.forbidden_spots:
            yield _h11(f"{named(task.figure)}: the owner has barred this spot.", task.figure.id)
    if "wedge" not in owner.allowed and any(action.by == "wedge" for action in plan.casting.pedals):
        yield _h11(f"The owner has not allowed {PERMISSIONS['wedge']}.")


def _permissions(task: Task) -> frozenset[str]:
    fingers = task.figure.touch is not None or task.figure.mute is Mute.FINGER
    asked = {
        task.row.permission,
        "touch" if fingers else None,
        "mutes" if task.figure.mute is Mute.MOULDED else None,
    }
    return frozenset(name for name in asked if name is not None)


def _h11(message: str, *figures: str) -> Breach:
    return Breach(rule="H11", message=message, figures=figures)
