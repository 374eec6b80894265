"""What every page begins with: the centre, the course, who is acting, and as of which day."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from functools import wraps
from typing import Any, NoReturn, ParamSpec, TypeVar

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from course.access import Sight
from course.answers.centre_answer import CentreAnswer, centre
from course.answers.course_view import CourseView, view
from course.answers.days import as_of_words
from course.asker import asking, only_own, require_sight
from course.errors import CourseError, RefusedError, StorageError
from course.places import PAGES
from course.record.facts import Course
from course.screens import controls
from course.screens.serve import current_ledger
from course.storage.after_saving import told_after_saving
from course.storage.ledger import Ledger
from course.storage.lookup import all_of

_DRAWN = re.compile(
    r"[\\`*_\[\]<>~$|]|&(?=[#\w])|:(?=[A-Za-z/+-])|^[#+=-]|(?:(?<=^\d)|(?<=^\d\d))[.)](?=\s)", re.MULTILINE
)
_P = ParamSpec("_P")
_R = TypeVar("_R")


@dataclass(frozen=True)
class Screen:
    """What a page works on."""

    ledger: Ledger
    centre: CentreAnswer
    seen: CourseView | None

    def actor(self, people: Iterable[str] = ()) -> str:
        """Who acts where the page does not ask: whoever is signed in; else the first of these, or the lead."""
        asker = asking()
        return asker.person if asker else next(iter(people), self.centre.lead)

    def students(self, sight: Sight) -> dict[str, str]:
        """The course's students that whoever asks may see there, id to name: a student sees only themselves."""
        own = only_own(sight)
        return {one: self.course.name(one) for one in self.course.students if own in (None, one)}

    @property
    def course(self) -> CourseView:
        """The course; pages that need one stop before they come here without."""
        if self.seen is None:
            end()
        return self.seen


def begin() -> Screen:
    """Read the centre and the chosen course; say at once when the ledger takes nothing."""
    ledger = current_ledger()
    found = centre(ledger)
    if found.damage:
        st.error(literal(f"NOT saving anything: {found.damage}"))
    found = _open_to_asker(ledger, found)
    courses = {c.id: c for c in found.courses}
    chosen = st.query_params.get("course")
    if chosen not in courses:
        chosen = next(iter(courses), None)
    return Screen(ledger, found, view(ledger, chosen) if chosen else None)


def _open_to_asker(ledger: Ledger, found: CentreAnswer) -> CentreAnswer:
    """The centre with the courses that whoever asks may see: a student only those they are on."""
    own = only_own(Sight.STUDENT)
    if own is None:
        return found
    on = {one.id for one in all_of(ledger, Course) if any(member.person == own for member in one.members)}
    return replace(found, courses=tuple(one for one in found.courses if one.id in on))


def choose_course(screen: Screen) -> None:
    """Let the person change the course where the centre has several."""
    titles = {c.id: c.title for c in screen.centre.courses}
    if len(titles) < 2 or screen.seen is None:
        return
    chosen = st.selectbox(
        "Course", list(titles), format_func=titles.__getitem__, index=list(titles).index(screen.seen.course.id)
    )
    if chosen != screen.seen.course.id:
        st.query_params["course"] = chosen
        st.rerun()


def choose_day(seen: CourseView) -> date:
    """As of which day: the course's last day (today while it runs), or today."""
    days = list(dict.fromkeys((seen.usual_day, seen.today())))
    chosen = st.segmented_control(
        "As of", days, format_func=lambda d: as_of_words(d, seen.last_day, seen.today()), default=days[0], key="as-of"
    )
    return chosen or days[0]


def teach(sentence: str, label: str, page: str) -> None:
    """An empty state: what comes first, with the next act as a button."""
    st.markdown(f"## {sentence}")
    if controls.way(label, page=page, type="primary", key=f"teach-{page}"):
        st.switch_page(PAGES / f"{page}.py")
    end()


def telling(act: Callable[_P, _R]) -> Callable[_P, _R | None]:
    """Run an act and tell its error as a sentence in the page, instead of a traceback."""

    @wraps(act)
    def told(*args: _P.args, **kwargs: _P.kwargs) -> _R | None:
        try:
            with told_after_saving():
                return act(*args, **kwargs)
        except StorageError as error:
            st.session_state["told"] = ("error", error.not_saved)
        except CourseError as error:
            st.session_state["told"] = ("warning", error.sentence)
        return None

    return told


def done(result: object, sentence: str, part: str = "forms") -> None:
    """Draw the page anew; an act that came to something is told there, over forms that come back empty.

    Args:
        result: what the act came to; nothing where it was refused, and then its form keeps what was typed. A pair of
            how it is told and of words takes the place of the sentence.
        sentence: what was done.
        part: the forms of a page that are emptied together.
    """
    if result:
        st.session_state["told"] = result if isinstance(result, tuple) else ("done", sentence)
        st.session_state[f"{part}-done"] = st.session_state.get(f"{part}-done", 0) + 1
    st.rerun()


def fresh(name: str, part: str = "forms") -> str:
    """The name of a form, or of a field in it; another one after each success, so that it comes back empty."""
    return f"{name}-{st.session_state.get(f'{part}-done', 0)}"


def drawn_alone(sight: Sight) -> Callable[[Callable[_P, None]], Callable[_P, Any]]:
    """Make a part of a page that is drawn anew without the rest of it; it asks anew whether it may be seen."""

    def made(part: Callable[_P, None]) -> Callable[_P, Any]:
        @wraps(part)
        def asked(*args: _P.args, **kwargs: _P.kwargs) -> None:
            try:
                _where_open(sight, part, *args, **kwargs)
            except StorageError as error:
                show_unread(error.sentence)
                controls.way("Try again", key=f"try-again-{sight.name}")

        return st.fragment(asked)

    return made


def _where_open(sight: Sight, part: Callable[_P, None], *args: _P.args, **kwargs: _P.kwargs) -> None:
    try:
        require_sight(sight)
    except RefusedError as error:
        st.warning(literal(error.sentence))
        return
    part(*args, **kwargs)


def show_told() -> None:
    """Show once what the last act had to say.

    Its place is there even when nothing is said: what comes after it stays the same element, and an open form that
    was refused stays open with what was typed. What was refused also floats, since the tap may have been far below: a
    refusal for a while, what was not saved and an alarm until somebody puts it away.
    """
    place = st.empty()
    kind, sentence = st.session_state.pop("told", (None, None))
    beside = st.session_state.pop("told-beside", None)
    st.session_state["beside"] = (beside, kind, sentence) if kind else None
    if kind in ("error", "warning"):
        st.toast(literal(sentence), duration="infinite" if kind == "error" else "long")
    if kind and sentence:
        _told(place, kind, sentence)


def show_unread(sentence: str, then: str = "") -> None:
    """Show why nothing can be shown, and what the act before came to: what was saved then is not denied by it."""
    show_told()
    st.error(literal(f"{sentence.removesuffix(' Nothing was changed.')}{then}"))


def told_beside(part: str) -> None:
    """Show it a second time in the part of the page whose control was used, where the eye is; show_told comes first.

    Its place is there even when nothing is said, as above.
    """
    place = st.empty()
    where, kind, sentence = st.session_state.get("beside") or ("", "", "")
    if where == part:
        _told(place, kind, sentence)


@contextmanager
def done_told_at_the_end() -> Iterator[None]:
    """Within it what was done is said once the whole page stands; what was refused is said at once.

    A form whose act succeeded comes back empty, drawn anew. Said before that, the sentence would let somebody go on
    typing into the form as it was, and what they typed would be gone with it.
    """
    st.session_state["told-at-the-end"] = []
    try:
        yield
        for one in st.session_state.pop("told-at-the-end", ()):
            _told(*one)
    except StorageError:  # the page does not come to its end, and what was done was done
        for _, kind, sentence in st.session_state.pop("told-at-the-end", ()):
            st.session_state["told"] = (kind, sentence)
        raise
    finally:
        st.session_state.pop("told-at-the-end", None)


def end() -> NoReturn:
    """End the page here, and say what waits for that; nothing can be drawn any more once Streamlit was told to stop."""
    for one in st.session_state.pop("told-at-the-end", ()):
        _told(*one)
    st.stop()  # noqa: TID251  (the one place)


def _told(place: DeltaGenerator, kind: str, sentence: str) -> None:
    waiting = st.session_state.get("told-at-the-end")
    if kind == "done" and waiting is not None:
        waiting.append((place, kind, sentence))
        return
    box = {"error": place.error, "warning": place.warning, "done": place.success}[kind]
    box(literal(sentence))


def plain(text: str) -> str:
    """Text of people inside a sentence that Markdown draws: every sign of it stands for itself."""
    return "".join(f"\\{letter}" if letter in "\\`*_{}[]()#+-.!|<>~$:&" else letter for letter in text)


def literal(text: str) -> str:
    """A sentence or a label with text of people in it: Markdown draws nothing of it, and other signs stay as typed."""
    return _DRAWN.sub(r"\\\g<0>", text)
