"""What one running page serves: the production, its variants, and to whom."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from starlette.requests import HTTPConnection

from rimside.errors import BadInput
from rimside.files.project import Production
from rimside.web.desk import Desk

VARIANTS = "variants"
VARIANT_NAME = re.compile(r"[A-Za-z0-9_]+(-[A-Za-z0-9_]+)*")


class Asked(NamedTuple):
    """What a request is about: the folder at work, its name ("" for the main one), its files now, and a casting."""

    desk: Desk
    variant: str
    production: Production
    name: str


@dataclass(slots=True)
class House:
    """The production folder, and the desks opened so far: its own, "", and one for each variant."""

    root: Path
    port: int = 0
    hosts: frozenset[str] = frozenset()
    """Host names of this machine on the local network, when it is shared."""
    _desks: dict[str, Desk] = field(default_factory=dict)

    def desk(self, variant: str = "") -> Desk:
        """The desk of a variant, or of the production itself.

        Raises
        ------
        BadInput : no such variant.
        """
        if variant not in self._desks:
            if variant and not VARIANT_NAME.fullmatch(variant):
                raise BadInput("not the name of a variant", value=variant)
            folder = self.root / VARIANTS / variant if variant else self.root
            if not folder.is_dir():
                raise BadInput("there is no such variant", value=variant)
            self._desks[variant] = Desk(folder)
        return self._desks[variant]

    def asked(self, request: HTTPConnection) -> Asked:
        """What a request is about, by its `variant` and `casting`."""
        variant = request.query_params.get("variant", "")
        desk = self.desk(variant)
        production = desk.production()
        return Asked(desk, variant, production, desk.name(production, request.query_params.get("casting")))


def house_of(request: HTTPConnection) -> House:
    """The house that serves a request."""
    house: House = request.app.state.house
    return house
