"""The copying grid's own way to the server: check a copied sheet, save it, amend what was saved before.

Nothing goes through Streamlit here, so that a grid that has lost Streamlit's connection still saves, and says whether
it did. The guards are those of the pad's taps.
"""

from __future__ import annotations

import logging
from typing import Annotated, Any, Literal

import anyio
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from course.actions.slate_entry import amend_from_slate, enter_slate, is_saved
from course.answers.slate_check import check_slate
from course.answers.slate_copy import read_copy
from course.errors import CourseError, OtherNameError, SignedOutError, StorageError
from course.moments import now
from course.record.body import Id
from course.screens.serve import MOST_BYTES, current_ledger, not_from_our_page, read_within, sentence_answer
from course.storage.after_saving import told_after_saving

SLATE = "/course/slate"
_log = logging.getLogger(__name__)


class _Asked(BaseModel):
    """What the grid asks for."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    act: Literal["check", "save", "amend"]
    copied: Annotated[dict[str, Any], Field(alias="copy")]
    told: str | None = None
    """What the person read before saving: the check's own hash."""
    student: Id | None = None
    attempt_try: int = 1
    why: str | None = None


async def take_slate(request: Request) -> Response:
    """Check, save or amend one copied sheet; every refusal is a sentence, and nothing of it was saved."""
    refusal = not_from_our_page(request)
    if refusal:
        return refusal
    try:
        body = await read_within(request, MOST_BYTES)
        if body is None:
            return sentence_answer(413, f"A copied sheet may have {MOST_BYTES // 1024} kB. Nothing of it was saved.")
        asked = _Asked.model_validate_json(body)
    except (ClientDisconnect, ValidationError, ValueError):
        return sentence_answer(400, "The copied sheet did not arrive whole. Nothing of it was saved.")
    return await anyio.to_thread.run_sync(_answered, asked)


def _answered(asked: _Asked) -> JSONResponse:
    try:
        with told_after_saving():
            content = _acted(asked)
    except StorageError as error:
        return sentence_answer(503, error.not_saved)
    except (OtherNameError, SignedOutError) as error:
        return sentence_answer(403, error.sentence)
    except CourseError as error:
        return sentence_answer(409, error.sentence)
    except Exception:
        _log.exception("a copied sheet failed")
        return sentence_answer(500, "NOT saved: something in the program went wrong; what you typed stays here.")
    return JSONResponse(content, headers={"cache-control": "no-store"})


def _acted(asked: _Asked) -> dict[str, Any]:
    ledger, copy, at = current_ledger(), read_copy(asked.copied), now()
    if asked.act == "amend":
        attempt = amend_from_slate(ledger, copy, asked.student or "", asked.attempt_try, asked.why or "")
        return {"amended": attempt, "check": check_slate(ledger, copy, at).plain()}
    if asked.act == "check":
        return {"check": check_slate(ledger, copy, at).plain()}
    if not is_saved(ledger, copy):
        found = check_slate(ledger, copy, at)
        if found.told != asked.told or not found.may_save:
            return {"saved": None, "check": found.plain()}
    entered = enter_slate(ledger, copy, at)
    return {"saved": list(entered.attempts), "sentence": entered.sentence}


def routes() -> list[Route]:
    """Return the route that the grid posts to."""
    return [Route(SLATE, take_slate, methods=["POST"])]
