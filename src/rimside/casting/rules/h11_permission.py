"""H11 permission: nothing is done that this piano's owner has not allowed."""

from __future__ import annotations

from rimside.kit import PERMISSIONS, TechniqueRow
from rimside.piano.model import Permissions
from rimside.score.model import Figure, Mute

RULE, NAME = "H11", "the owner's permission"


def forbidden(figure: Figure, row: TechniqueRow, permissions: Permissions) -> str | None:
    """What the owner has not allowed, in words, or None."""
    wanted = [row.permission, "touch" if figure.touch or figure.mute is Mute.FINGER else None]
    wanted.append("mutes" if figure.mute is Mute.MOULDED else None)
    for permission in wanted:
        if permission is not None and permission not in permissions.allowed:
            return f"this piano's owner has not allowed {PERMISSIONS[permission]}"
    if figure.spot is not None and figure.spot in permissions.forbidden_spots:
        return f"this piano's owner has not allowed the spot {figure.spot}"
    return None
