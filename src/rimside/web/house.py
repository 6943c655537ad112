"""What one running page serves: the production, its variants, and to whom."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from starlette.concurrency import run_in_threadpool
from starlette.requests import HTTPConnection

from rimside.files.project import Production
from rimside.files.variants import folder_of
from rimside.web.desk import Desk


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
        return self._desks.setdefault(variant, Desk(folder_of(self.root, variant)))

    def asked(self, request: HTTPConnection) -> Asked:
        """What a request is about, by its `variant` and `casting`."""
        variant = request.query_params.get("variant", "")
        desk = self.desk(variant)
        production = desk.production()
        return Asked(desk, variant, production, desk.name(production, request.query_params.get("casting")))

    def forget(self, variant: str) -> None:
        """Close the desk of a variant that is put aside."""
        desk = self._desks.pop(variant, None)
        if desk is not None:
            desk.close()


async def asked_of(request: HTTPConnection) -> Asked:
    """What a request is about, read in a thread beside the loop."""
    return await run_in_threadpool(house_of(request).asked, request)


def house_of(request: HTTPConnection) -> House:
    """The house that serves a request."""
    house: House = request.app.state.house
    return house
