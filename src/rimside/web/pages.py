"""Pages from templates: every value is text, never markup."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from rimside import __version__
from rimside.files import project
from rimside.web.house import house_of

if TYPE_CHECKING:
    from jinja2 import Environment

PAGES = (
    ("/", "Inside"),
    ("/parts", "Parts"),
    ("/why", "Why"),
    ("/papers", "Papers"),
    ("/files", "Files"),
    ("/variants", "Variants"),
    ("/rehearse", "Rehearse"),
)
"""The director's pages, in the order of the work."""


@cache
def environment() -> Environment:
    """The templates; what goes into them is escaped, an unknown name is a fault."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("rimside.web"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip


def page(request: Request, template: str, status: int = 200, **values: object) -> Response:
    """One of the director's pages: `template` with its values and those of the frame round it."""
    house = house_of(request)
    variant = str(values.get("variant") or request.query_params.get("variant", ""))
    desk = house.desk(variant)
    frame = {
        "pages": PAGES, "here": request.url.path, "variant": variant, "version": __version__,
        "castings": project.casting_names(desk.folder), "casting": request.query_params.get("casting", ""),
        "query": query(request),
    }  # fmt: skip
    return HTMLResponse(environment().get_template(template).render({**frame, **values}), status)


def query(request: Request) -> str:
    """What of a request's query goes on to the next page ("?casting=..."), empty for the main casting."""
    from urllib.parse import urlencode

    kept = {name: request.query_params[name] for name in ("casting", "variant") if name in request.query_params}
    return f"?{urlencode(kept)}" if kept else ""
