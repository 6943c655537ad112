"""A pin: what a person has decided about one figure, before anything is solved."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rimside.errors import BadInput

RULE = "pin"
"""The rule under which a figure is uncast that pins make impossible."""
SIDES = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """One figure, and the player, place, hand, implement or contact that it shall have, or with `forbid` shall not.

    `player` and `place` are ids, `implement` is a kind or the id of one, `contact_mm` counts from the near end of the
    figure's first course. A pin that forbids names one thing only.
    """

    figure: str
    player: str = ""
    place: str = ""
    hand: str = ""
    implement: str = ""
    contact_mm: float | None = None
    forbid: bool = False

    def __post_init__(self) -> None:
        where = f"pin on {self.figure}"
        if not self.named:
            raise BadInput("a pin names nothing", where=where, allowed="player, place, hand, implement or contact_mm")
        if self.forbid and len(self.named) > 1:
            raise BadInput(
                "a pin that forbids names one thing only",
                where=where,
                value=", ".join(self.named),
                hint="make a pin for each",
            )
        if self.hand not in ("", *SIDES):
            raise BadInput("not a hand", where=where, value=self.hand, allowed="left, right")

    @property
    def named(self) -> dict[str, str | float]:
        """What it names, by field."""
        fields: dict[str, str | float | None] = {
            "player": self.player or None,
            "place": self.place or None,
            "hand": self.hand or None,
            "implement": self.implement or None,
            "contact_mm": self.contact_mm,
        }
        return {name: value for name, value in fields.items() if value is not None}

    @property
    def words(self) -> str:
        """What it says, for people: "F12 not player ada"."""
        told = (f"contact at {v:g} mm" if name == "contact_mm" else f"{name} {v}" for name, v in self.named.items())
        return f"{self.figure} {'not ' if self.forbid else ''}{', '.join(told)}"

    def apart(self) -> tuple[Pin, ...]:
        """The same as pins of one thing each."""
        bare = {"player": "", "place": "", "hand": "", "implement": "", "contact_mm": None}
        return tuple(replace(self, **{**bare, name: value}) for name, value in self.named.items())  # type: ignore[arg-type]
