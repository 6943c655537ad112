"""The invented pianos that come with Rimside."""

from __future__ import annotations

from importlib.resources import files

SHIPPED = ("grand_275", "grand_210", "grand_170")
"""Names of the shipped surveys, the longest piano first."""


def shipped_survey(name: str) -> bytes:
    """The survey file of a shipped piano, as written.

    Raises
    ------
    KeyError : no piano of that name is shipped.
    """
    if name not in SHIPPED:
        raise KeyError(name)
    return (files("rimside.piano") / "data" / f"{name}.toml").read_bytes()


def shipped_surveys() -> dict[str, bytes]:
    """Every shipped survey by name."""
    return {name: shipped_survey(name) for name in SHIPPED}
