"""The whole page on one screen: every address, and what answers there."""

from __future__ import annotations

from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles

from rimside.errors import BadInput, RimsideError
from rimside.files.history import Conflict
from rimside.web import change, files_page, inside_page, papers_page, parts_page, trace_page, variants_page, why_page
from rimside.web.guard import Guard
from rimside.web.house import House
from rimside.web.pages import page
from rimside.web.rehearsing import leader, phone

STATIC = Path(__file__).parent / "static"


def routes() -> list[Route | Mount | WebSocketRoute]:
    """Address, function, method."""
    return [
        Route("/", inside_page.show),
        Route("/plan.svg", inside_page.plan),
        Route("/scene.json", inside_page.scene),
        Route("/sound", inside_page.sound),
        Route("/parts", parts_page.everybody),
        Route("/parts/{player}", parts_page.part),
        Route("/why", why_page.show),
        Route("/why/try", why_page.try_out, methods=["POST"]),
        Route("/why/keep", why_page.keep, methods=["POST"]),
        Route("/why/read", why_page.read_caution, methods=["POST"]),
        Route("/papers", papers_page.show),
        Route("/papers/page/{number:int}.png", papers_page.picture),
        Route("/papers/sheet.pdf", papers_page.sheet),
        Route("/papers/book.pdf", papers_page.whole),
        Route("/papers/plan.svg", papers_page.plan),
        Route("/papers/build.pdf", papers_page.build),
        Route("/papers/markers.pdf", papers_page.markers),
        Route("/papers/tape-form.pdf", papers_page.form),
        Route("/papers/write", papers_page.write, methods=["POST"]),
        Route("/trace", trace_page.show),
        Route("/trace/image", trace_page.image),
        Route("/trace/marks", trace_page.marks),
        Route("/trace/save", trace_page.save, methods=["POST"]),
        Route("/trace/piano", trace_page.piano, methods=["POST"]),
        Route("/type/{face}.ttf", inside_page.face),
        Route("/change/pins", change.pins),
        Route("/change/try", change.try_out, methods=["POST"]),
        Route("/change/keep", change.keep, methods=["POST"]),
        Route("/steps", change.steps),
        Route("/undo", change.undo, methods=["POST"]),
        Route("/redo", change.redo, methods=["POST"]),
        Route("/cast", change.cast, methods=["POST"]),
        Route("/cast/state", change.cast_state),
        Route("/cast/stop", change.cast_stop, methods=["POST"]),
        Route("/variants", variants_page.show),
        Route("/variants/make", variants_page.make, methods=["POST"]),
        Route("/variants/remove", variants_page.remove, methods=["POST"]),
        Route("/variants/take-over", variants_page.take_over, methods=["POST"]),
        Route("/files", files_page.show),
        Route("/files/form", files_page.form),
        Route("/files/check", files_page.check, methods=["POST"]),
        Route("/files/save", files_page.save, methods=["POST"]),
        Route("/files/upload", files_page.upload, methods=["POST"]),
        Route("/rehearse", leader.show),
        Route("/rehearse/links", leader.links),
        Route("/rehearse/link/{player}", leader.link),
        Route("/rehearse/code/{player}", leader.code),
        WebSocketRoute("/rehearse/line", leader.line),
        Route("/rehearse/do", leader.do, methods=["POST"]),
        Route("/rehearse/choose", leader.choose, methods=["POST"]),
        Route("/rehearse/make", leader.make_link, methods=["POST"]),
        Route("/rehearse/revoke", leader.revoke, methods=["POST"]),
        Route("/rehearse/answer", leader.answer, methods=["POST"]),
        Route("/rehearse/measure", leader.measure, methods=["POST"]),
        Route("/follow/{token}", phone.show),
        WebSocketRoute("/follow/{token}/line", phone.line),
        Mount("/static", StaticFiles(directory=STATIC)),
    ]


def make_app(house: House) -> Starlette:
    """The page of one production."""
    app = Starlette(
        routes=routes(),
        middleware=[Middleware(Guard, house=house), Middleware(GZipMiddleware, minimum_size=1000)],
        exception_handlers={RimsideError: _told, HTTPException: _not_there},
    )
    app.state.house = house
    return app


async def _told(request: Request, error: Exception) -> Response:
    """What a person can mend, in the words that the command line uses."""
    status = 409 if isinstance(error, Conflict) else 400 if isinstance(error, BadInput) else 500
    if _wants_json(request):
        return JSONResponse({"slip": str(error)}, status)
    return page(request, "slip.html", status, variant="", slip=str(error))


async def _not_there(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    words = "there is no such page" if status == 404 else str(getattr(error, "detail", error))
    if _wants_json(request) or not request.url.path.strip("/").isalpha():
        return JSONResponse({"slip": words}, status)
    return page(request, "slip.html", status, variant="", slip=words)


def _wants_json(request: Request) -> bool:
    return request.method == "POST" or "text/html" not in request.headers.get("accept", "")
