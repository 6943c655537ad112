"""H11 permission: nothing is done that this piano's owner has not allowed."""

from __future__ import annotations

from rimside.kit import PERMISSIONS, TechniqueRow
from rimside.piano.model import Permissions
from rimside.score.model import Figure, Mute

RULE, NAME = "H11", "the owner's permission"


def wanted(figure: Figure, row: TechniqueRow) -> tuple[str, ...]:
    """The permissions that a figure asks for."""
    asked = [row.permission, "touch" if figure.touch or figure.mute is Mute.FINGER else None]
    asked.append("mutes" if figure.mute is Mute.MOULDED else None)
    return tuple(permission for permission in asked if permission is not None)


def forbidden(figure: Figure, row: TechniqueRow, permissions: Permissions) -> str | None:
    """What the owner has not allowed, in words, or None."""
    for permission in wanted(figure, row):
        if permission not in permissions.allowed:
            return f"this piano's owner has not allowed {PERMISSIONS[permission]}"
    if figure.spot is not None and figure.spot in permissions.forbidden_spots:
        return f"this piano's owner has not allowed the spot {figure.spot}"
    return None
