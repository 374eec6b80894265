"""Who asks just now: whoever is signed in, or the owner of the folder where nobody has to sign in.

What serves the screens says how to find out (`ask_by`); commands and single-person mode say nothing, and their answer
is the owner, whom nothing is refused here. It is asked anew each time: a session that was ended is over at the next
question, in whatever thread that comes. Who may ask which answer stands beside it (`question`).
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import wraps
from inspect import signature
from typing import Any, ParamSpec, TypeVar

from course.access import Act, Holder, Right, Sight, may, may_by_pin, own_only, require, require_by_pin, words_of
from course.errors import OtherNameError, RefusedError
from course.words import Role

_LOG = logging.getLogger("course.access")
_P = ParamSpec("_P")
_R = TypeVar("_R")


@dataclass(frozen=True)
class Asker:
    """Somebody who is signed in."""

    person: str
    roles: frozenset[Holder]
    by_pin: bool = False
    """They gave a PIN only: what they may is less."""
    name: str = ""

    def may(self, right: Right) -> bool:
        """Whether they may do or see this now."""
        return may_by_pin(self.roles, right) if self.by_pin else may(self.roles, right)

    def require(self, right: Right) -> None:
        """Refuse what they may not do or see now.

        Raises:
            RefusedError: told what, and whose roles may.
        """
        try:
            if self.by_pin:
                require_by_pin(self.roles, right)
            else:
                require(self.roles, right, offices=True)
        except RefusedError:
            _note(words_of(right))
            raise

    def require_one(self, asked: Iterable[Right], student: object) -> None:
        """Refuse a question to whom none of these rights lets ask it, or only about themselves.

        Raises:
            RefusedError: told what, and whose roles may.
        """
        asked = tuple(asked)
        held = [right for right in asked if self.may(right)]
        if not held:
            self.require(asked[0])
        if student != self.person and all(isinstance(one, Sight) and own_only(self.roles, one) for one in held):
            _note("see what is about somebody else")
            raise RefusedError("What is open to you here is about yourself alone. Nothing was changed.")


def _note(what: str) -> None:
    """One line of the log, without a name; it is put together here, since a line of the log keeps no arguments."""
    said = f"not allowed, and refused: {what}"
    _LOG.warning(said)


_ways: list[Callable[[], Asker | None]] = []
_as: ContextVar[Asker | None] = ContextVar("asked_as", default=None)
_answering: ContextVar[bool] = ContextVar("answering", default=False)


def ask_by(way: Callable[[], Asker | None] | None) -> None:
    """Say how this process finds out who asks; None: it is the owner again."""
    _ways[:] = [way] if way else []


def asking() -> Asker | None:
    """Return who asks just now; None: the owner of the folder, in a command or in single-person mode.

    Raises:
        SignedOutError: somebody has to be signed in and nobody is, or no longer.
    """
    if (known := _as.get()) is not None:
        return known
    return _ways[0]() if _ways else None


@contextmanager
def asked_as(asker: Asker) -> Iterator[None]:
    """Within it this person asks: for whoever was just looked at by password and is not let in yet."""
    before = _as.set(asker)
    try:
        yield
    finally:
        _as.reset(before)


def may_ask(right: Right) -> bool:
    """Whether whoever asks may do or see this."""
    asker = asking()
    return asker is None or asker.may(right)


def require_sight(sight: Sight) -> None:
    """Refuse a page, route or download to whoever may not see it.

    Raises:
        RefusedError: they may not; SignedOutError where nobody is signed in.
    """
    if (asker := asking()) is not None:
        asker.require(sight)


def question(*rights: Right) -> Callable[[Callable[_P, _R]], Callable[_P, _R]]:
    """Make an answer one that only somebody with one of these rights may ask for; the table says who that is.

    What it asks in turn is a part of it and is not asked again. So whoever looks at their own record gets what it says
    of their class, and whoever checks a paper is told whether the ledger still says so. Where somebody sees only what
    is about themselves, its argument `student` has to be them: without one it speaks of several people.

    Args:
        rights: whatever it is shown on or needed for; a refusal names the first.
    """

    def made(answer: Callable[_P, _R]) -> Callable[_P, _R]:
        named = signature(answer)

        @wraps(answer)
        def asked(*args: _P.args, **kwargs: _P.kwargs) -> _R:
            if _answering.get() or (asker := asking()) is None:
                return answer(*args, **kwargs)
            asker.require_one(rights, named.bind(*args, **kwargs).arguments.get("student"))
            before = _answering.set(True)
            try:
                return answer(*args, **kwargs)
            finally:
                _answering.reset(before)

        RIGHTS_OF[asked] = rights
        return asked

    return made


RIGHTS_OF: dict[Callable[..., Any], tuple[Right, ...]] = {}
"""Every question with the rights of which one lets it be asked, as it was written beside it."""


def only_own(sight: Sight) -> str | None:
    """Return the person about whom alone the asker sees something there; None: about everybody."""
    asker = asking()
    return asker.person if asker is not None and own_only(asker.roles, sight) else None


def refuse_other_name(actor: str) -> None:
    """Refuse to act in the name of anybody but the one who is signed in.

    Raises:
        OtherNameError: the actor is somebody else.
    """
    asker = asking()
    if asker is not None and asker.person != actor:
        _note("act in another's name")
        raise OtherNameError(
            f"{asker.name or 'Somebody else'} is signed in here, and nobody acts in another's name: whoever does this "
            "signs in themselves. Nothing was changed."
        )


def refuse_unconfirmed(confirmed_with: str | None) -> None:
    """Refuse to sign for whoever did not confirm at the act that it is them.

    Raises:
        RefusedError: nothing was given.
    """
    if confirmed_with is None:
        raise RefusedError("Whoever signs confirms it with their password or PIN at the act. Nothing was signed.")


def only_asker(people: Mapping[str, str]) -> dict[str, str]:
    """Narrow a choice of who acts, id to name, to whoever is signed in; all of them where nobody has to be."""
    asker = asking()
    return {one: name for one, name in people.items() if asker is None or one == asker.person}


def writer_for(writer: str) -> str:
    """Return who enters what somebody wrote on paper: the writer, or the lead who is signed in.

    Raises:
        OtherNameError: somebody else than both is signed in.
    """
    if not may_enter_for(writer):
        refuse_other_name(writer)
    asker = asking()
    return writer if asker is None else asker.person


def may_enter_for(writer: str) -> bool:
    """Whether whoever asks may copy in what this person wrote on paper: their own, and a lead everybody's."""
    asker = asking()
    return asker is None or asker.person == writer or (Role.LEAD in asker.roles and asker.may(Act.EVALUATE))


def sees_as_lead(roles: Iterable[Holder]) -> bool:
    """Whether what is for the lead alone is shown: to whoever is signed in by their rights, else to these roles."""
    asker = asking()
    return may(roles, Act.OBSERVE) if asker is None else asker.may(Sight.OBSERVERS)
