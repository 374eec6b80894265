"""Who asks just now: whoever is signed in, or the owner of the folder where nobody has to sign in.

What serves the screens says how to find out (`ask_by`); commands and single-person mode say nothing, and their answer
is the owner, whom nothing is refused here. It is asked anew each time: a session that was ended is over at the next
question, in whatever thread that comes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from course.access import Act, Holder, Right, Sight, may, may_by_pin, own_only, require, require_by_pin
from course.errors import OtherNameError
from course.words import Role


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
        if self.by_pin:
            require_by_pin(self.roles, right)
        else:
            require(self.roles, right, offices=True)


_ways: list[Callable[[], Asker | None]] = []


def ask_by(way: Callable[[], Asker | None] | None) -> None:
    """Say how this process finds out who asks; None: it is the owner again."""
    _ways[:] = [way] if way else []


def asking() -> Asker | None:
    """Return who asks just now; None: the owner of the folder, in a command or in single-person mode.

    Raises:
        SignedOutError: somebody has to be signed in and nobody is, or no longer.
    """
    return _ways[0]() if _ways else None


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
        raise OtherNameError(
            f"{asker.name or 'Somebody else'} is signed in here, and nobody acts in another's name: whoever does this "
            "signs in themselves. Nothing was changed."
        )


def only_asker(people: Mapping[str, str]) -> dict[str, str]:
    """Narrow a choice of who acts, id to name, to whoever is signed in; all of them where nobody has to be."""
    asker = asking()
    return {one: name for one, name in people.items() if asker is None or one == asker.person}


def writer_for(writer: str) -> str:
    """Return who enters what somebody wrote on paper: the writer, or the lead who is signed in.

    Raises:
        OtherNameError: somebody else than both is signed in.
    """
    asker = asking()
    if asker is None or asker.person == writer:
        return writer
    if Role.LEAD not in asker.roles or not asker.may(Act.EVALUATE):
        refuse_other_name(writer)
    return asker.person
