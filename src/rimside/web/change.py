"""Changing the casting from the page: a pin is tried, seen, kept; every step is taken back and made again."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import Literal

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from rimside.casting.result import CastFigure
from rimside.errors import BadInput
from rimside.files import job, project, repinning
from rimside.files.history import Conflict, Step
from rimside.files.repinning import Trial
from rimside.web import levels
from rimside.web.bodies import Body, clock, sent
from rimside.web.casting_job import CastingJob
from rimside.web.house import Asked, asked_of


class Wish(Body):
    """One pin as the page sends it."""

    player: str = ""
    place: str = ""
    hand: Literal["", "left", "right"] = ""
    implement: str = ""
    contact_mm: float | None = None
    forbid: bool = False


class Wishes(Body):
    """The pins that a figure shall have, and those that it had when the person looked."""

    figure: str
    pins: list[Wish]
    had: list[dict[str, str | float | bool]] | None = None
    words: str = ""


class Meant(Body):
    """The number of the step that a person wants to take back or make again."""

    step: int | None = None


class Anew(Body):
    """A whole casting: anew, or as close as can be to the one there is."""

    close: bool = False
    seconds: float | None = None


async def pins(request: Request) -> Response:
    """The pins of a figure, and all that it could be pinned to."""
    asked = await asked_of(request)
    told = await run_in_threadpool(_pins, asked, request.query_params.get("figure", ""))
    return JSONResponse(told, background=BackgroundTask(_pose, asked))


def _pose(asked: Asked) -> None:
    """Pose the question while the person looks at the form, so that the first try is as quick as the second."""
    with suppress(BadInput):  # told when a pin is tried
        asked.desk.going_on(asked.production, asked.name)


def _pins(asked: Asked, figure: str) -> Mapping[str, object]:
    book = asked.desk.material(asked.production, asked.name)
    known = next((row for row in book.casting.figures if row.id == figure), None)
    if known is None:
        raise BadInput("there is no such figure", value=figure)
    stock = book.kit.stock
    return {
        "pins": repinning.rows_of(asked.production, figure),
        "players": [[player.id, player.name] for player in book.players if player.plays(known.technique)],
        "places": [place.id for place in book.casting.places],
        "implements": [one.kind for one in stock if known.technique in one.serves],
    }


async def try_out(request: Request) -> Response:
    """What would change with other pins; nothing is written."""
    asked = await asked_of(request)
    wishes = await sent(request, Wishes)
    return JSONResponse(_told(await run_in_threadpool(_try, asked, wishes)))


async def keep(request: Request) -> Response:
    """Try again, and write it."""
    asked = await asked_of(request)
    wishes = await sent(request, Wishes)
    return JSONResponse(await run_in_threadpool(_keep, asked, wishes))


def _try(asked: Asked, wishes: Wishes) -> Trial:
    had = repinning.rows_of(asked.production, wishes.figure)
    if wishes.had is not None and wishes.had != had:
        raise Conflict((f"the pins of {wishes.figure}",), _last_of(asked, project.PINS))
    rows = [wish.model_dump(exclude_defaults=True) for wish in wishes.pins]
    wanted = repinning.pinned(asked.production, wishes.figure, project.piano_of(asked.name), rows)
    base = asked.desk.going_on(asked.production, asked.name)
    return repinning.try_pins(asked.production, asked.name, wanted, base)


def _last_of(asked: Asked, name: str) -> tuple[str, ...]:
    """The words of the last step that wrote a file."""
    history = asked.desk.history()
    told = [step.words for step in history.steps() if step.number <= history.position and name in step.files]
    return tuple(told[-1:])


def _keep(asked: Asked, wishes: Wishes) -> Mapping[str, object]:
    trial = _try(asked, wishes)
    words = wishes.words[:200] or f"pins of {wishes.figure}"
    repinning.keep(asked.desk.history(), asked.production, trial, words, at=clock())
    return {**_told(trial), **_steps(asked)}


def _told(trial: Trial) -> Mapping[str, object]:
    """A trial as the page shows it."""
    return {
        "moved": [
            {"figure": row.figure, "what": list(row.what), "before": _cast(row.before), "after": _cast(row.after)}
            for row in trial.moved
        ],
        "lost": [
            {"figure": row.figure, "reason": row.reason, "mends": [m.text for m in row.mends]} for row in trial.lost
        ],
        "levels": levels.changed(trial.levels, levels.words, levels.shown),
        "breaches": [breach.message for breach in trial.breaches],
    }


def _cast(row: CastFigure | None) -> Mapping[str, object] | None:
    if row is None:
        return None
    return {"player": row.player, "place": row.place, "hands": list(row.hands), "implements": list(row.implements)}


async def steps(request: Request) -> Response:
    """The steps so far, and whether one can be taken back or made again."""
    asked = await asked_of(request)
    return JSONResponse(await run_in_threadpool(_steps, asked))


async def undo(request: Request) -> Response:
    """Take the last step back."""
    asked = await asked_of(request)
    meant = await sent(request, Meant)
    return JSONResponse(await run_in_threadpool(_go, asked, "undo", meant.step))


async def redo(request: Request) -> Response:
    """Make the step again that was taken back last."""
    asked = await asked_of(request)
    meant = await sent(request, Meant)
    return JSONResponse(await run_in_threadpool(_go, asked, "redo", meant.step))


def _go(asked: Asked, way: Literal["undo", "redo"], meant: int | None) -> Mapping[str, object]:
    history = asked.desk.history()
    step: Step = history.undo(clock(), meant=meant) if way == "undo" else history.redo(clock(), meant=meant)
    return {"step": step.words, **_steps(asked)}


def _steps(asked: Asked) -> Mapping[str, object]:
    history = asked.desk.history()
    history.notice(clock())
    position, steps = history.position, history.steps()
    made = sum(step.number <= position for step in steps)
    return {
        "position": position,
        "can_undo": history.can_undo,
        "can_redo": history.can_redo,
        "steps": [
            {"number": step.number, "words": step.words, "at": step.at} for step in steps[max(0, made - 60) : made + 60]
        ],
    }


async def cast(request: Request) -> Response:
    """Begin a whole casting beside the page; one at a time."""
    asked = await asked_of(request)
    anew = await sent(request, Anew)
    return JSONResponse(await run_in_threadpool(_begin, asked, anew))


def _begin(asked: Asked, anew: Anew) -> Mapping[str, object]:
    piano, without = project.piano_of(asked.name), project.absent_of(asked.name)
    like = asked.name if anew.close else None
    reading = asked.desk.reading(asked.production)
    ready = job.made_ready(asked.production, piano, without, anew.seconds, None, like, reading=reading)
    return asked.desk.begin(CastingJob(ready=ready, history=asked.desk.history(), at=clock())).state()


async def cast_state(request: Request) -> Response:
    """How far the casting is that is being made."""
    asked = await asked_of(request)
    running = asked.desk.casting_job
    return JSONResponse({"running": False, "words": ""} if running is None else running.state())


async def cast_stop(request: Request) -> Response:
    """Stop it; every file is as it was."""
    asked = await asked_of(request)
    running = asked.desk.casting_job
    if running is None:
        raise BadInput("no casting is being made")
    running.stop()
    return JSONResponse(running.state())
