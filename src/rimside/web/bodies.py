"""What the page sends, checked before anything is done with it."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.requests import Request

from rimside.errors import BadInput

Sent = TypeVar("Sent", bound="Body")


class Body(BaseModel):
    """The base of everything that is sent: plain types, nothing unknown."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


async def sent(request: Request, model: type[Sent]) -> Sent:
    """The body of a request.

    Raises
    ------
    BadInput : not JSON, or not what this address takes.
    """
    try:
        return model.model_validate(await request.json())
    except (json.JSONDecodeError, UnicodeDecodeError, RecursionError) as slip:
        raise BadInput("what was sent is not JSON") from slip
    except ValidationError as slip:
        first: Any = slip.errors(include_url=False)[0]
        where = ", ".join(str(step) for step in first["loc"])
        raise BadInput(f"what was sent cannot be used ({first['msg']})", where=where) from slip


def clock() -> str:
    """The time of day as steps are dated by."""
    return datetime.now(UTC).isoformat(timespec="seconds")
