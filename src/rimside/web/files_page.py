"""The files that people write, as forms: checked beside the field, kept as one step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Literal

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from rimside.errors import BadInput
from rimside.files import checkup, project, uploads
from rimside.files.edits import Edit, blank, carried, checked, edited
from rimside.files.forms import form_of, way_of
from rimside.files.toml import read_toml
from rimside.web.bodies import Body, clock, sent
from rimside.web.house import Asked, house_of
from rimside.web.pages import page

TEXT_BYTES = 1_500_000


class Change(Body):
    """One edit as the page sends it."""

    do: Literal["set", "remove", "add"]
    way: list[str | int]
    value: Any = None


class Version(Body):
    """A file as it shall be: edits, or a whole text.

    `sha` is of the file that the person saw, and that the edits are of; `onto` of somebody else's, when the person has
    been told of it and wants to go on top ("": they have taken the file away).
    """

    name: str
    sha: str | None = None
    onto: str | None = None
    edits: tuple[Change, ...] = ()
    text: str | None = None


async def show(request: Request) -> Response:
    """The page: every file with its state, and one of them open."""
    house = house_of(request)
    variant = request.query_params.get("variant", "")
    desk = house.desk(variant)
    found = await run_in_threadpool(checkup.check, str(desk.folder))
    production = await run_in_threadpool(desk.production)
    chosen = request.query_params.get("file") or project.ENSEMBLE
    rows = [row for row in found.inputs if row.name != production.facts.score]
    score = next((row for row in found.inputs if row.name == production.facts.score), None)
    return page(
        request, "files.html", title=production.facts.title, rows=rows, score=score, chosen=chosen, variant=variant,
        name=request.query_params.get("casting", ""), unread=found.unread,
    )  # fmt: skip


async def form(request: Request) -> Response:
    """One file: its fields, what stands in it, its text, and its SHA-256."""
    asked = await run_in_threadpool(_asked, request)
    return JSONResponse(await run_in_threadpool(_form, asked, request.query_params.get("name", "")))


def _asked(request: Request) -> Asked:
    """The folder at work; files can be written before there is any casting."""
    variant = request.query_params.get("variant", "")
    desk = house_of(request).desk(variant)
    return Asked(desk, variant, desk.production(), "")


def _form(asked: Asked, name: str) -> Mapping[str, object]:
    _check_known(asked, name)
    asked.desk.history().notice(clock())
    data, fields = asked.production.inputs.get(name, blank(name)), form_of(name)
    told: dict[str, object] = {
        "name": name, "sha": asked.production.hashes.get(name), "text": data.decode("utf-8", "replace"),
        "fields": [asdict(field) for field in fields],
    }  # fmt: skip
    try:
        return {**told, "table": _plain(read_toml(data, name)), "slip": ""}
    except BadInput as slip:
        return {**told, "table": None, "slip": str(slip)}


def _check_known(asked: Asked, name: str) -> None:
    """Only what the production names is written here."""
    pianos = {f"{project.PIANOS}/{piano}.toml" for piano in asked.production.facts.pianos}
    if name not in {project.PRODUCTION, project.ENSEMBLE, project.KIT, project.TECHNIQUES, project.PINS, *pianos}:
        raise BadInput("is no file that is written here", value=name)


def _plain(table: Mapping[str, Any]) -> Mapping[str, Any]:
    """A TOML table as JSON can carry it: dates become texts."""
    return {key: _value(value) for key, value in table.items()}


def _value(value: Any) -> Any:
    if isinstance(value, dict):
        return _plain(value)
    if isinstance(value, list):
        return [_value(inner) for inner in value]
    return value if isinstance(value, str | int | float | bool) else str(value)


async def check(request: Request) -> Response:
    """Whether a file would be good; the words and the place of the first slip."""
    asked = await run_in_threadpool(_asked, request)
    version = await sent(request, Version)
    return JSONResponse(await run_in_threadpool(_check, asked, version))


def _check(asked: Asked, version: Version) -> Mapping[str, object]:
    try:
        data = _data(asked, version)
    except BadInput as slip:
        return {"says": "", "slip": str(slip), "way": [], "text": None}
    told = {"text": data.decode("utf-8", "replace")}
    try:
        return {**told, "says": checked(asked.production, version.name, data), "slip": "", "way": []}
    except BadInput as slip:
        way = way_of(slip, _table(data))
        return {**told, "says": "", "slip": str(slip), "beside": slip.bare, "way": list(way)}


def _table(data: bytes) -> Mapping[str, Any]:
    """What a file holds, for the place of a slip; nothing when it cannot be read at all."""
    try:
        return read_toml(data, "")
    except BadInput:
        return {}


def _data(asked: Asked, version: Version) -> bytes:
    _check_known(asked, version.name)
    if version.text is not None:
        return version.text.encode("utf-8")
    before = asked.production.inputs.get(version.name, blank(version.name))
    edits = [Edit(do=e.do, way=tuple(e.way), value=e.value) for e in version.edits]
    if version.sha != asked.production.hashes.get(version.name):
        edits = carried(edits, _seen(asked, version), before, version.name)
    return edited(before, edits, version.name)


def _seen(asked: Asked, version: Version) -> bytes:
    """The file as the person saw it; its versions are kept."""
    try:
        return blank(version.name) if version.sha is None else asked.desk.history().version(version.sha)
    except KeyError as slip:
        raise BadInput("is not known as you saw it", where=version.name, hint="load the page again") from slip


async def save(request: Request) -> Response:
    """Keep a file as one step, unless it has changed since the person saw it."""
    asked = await run_in_threadpool(_asked, request)
    version = await sent(request, Version)
    return JSONResponse(await run_in_threadpool(_save, asked, version))


def _save(asked: Asked, version: Version) -> Mapping[str, object]:
    onto = version.sha if version.onto is None else version.onto or None
    same = asked.production.hashes.get(version.name) == onto
    data = _data(asked, version) if same else b""
    if same:
        checked(asked.production, version.name, data)
    step = asked.desk.history().change(
        f"{version.name} written", {version.name: data}, at=clock(), based_on={version.name: onto}
    )
    return {"step": step.words, "sha": step.files.get(version.name, (None, version.sha))[1]}


async def upload(request: Request) -> Response:
    """A score, or a picture for a survey."""
    asked = await run_in_threadpool(_asked, request)
    async with request.form(max_files=1, max_fields=3) as sent_form:
        file, kind = sent_form.get("file"), sent_form.get("kind")
        if not isinstance(file, UploadFile):
            raise BadInput("no file was sent")
        name, data = file.filename or "file", await file.read()
    history = asked.desk.history()
    if kind == "picture":
        step = await run_in_threadpool(lambda: uploads.keep_picture(history, name, data, at=clock()))
    else:
        step = await run_in_threadpool(lambda: uploads.keep_score(asked.production, history, name, data, at=clock()))
    return JSONResponse({"step": step.words})
