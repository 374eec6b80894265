"""Pages as people see them: hostile names all over them, hostile addresses, hostile files handed over."""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from typing import Any

import pytest
from centre_builder import POOL_SKILL, Centre, tap
from hostile_desk import Drive, Said
from hostile_fields import READY, first_event
from hostile_papers import filled, renamed
from opened_page import app_at
from streamlit.elements.widgets.button import ButtonMixin
from streamlit.testing.v1 import AppTest

from course.actions.pad import take
from course.answers.pad import state_now
from course.screens import serve, tablets
from course.screens.batch_parts import SEVERAL

MARKDOWN = ("title", "header", "subheader", "markdown", "caption", "warning", "error", "info", "success")
LABELLED = (
    "button", "checkbox", "expander", "toggle", "radio", "selectbox", "multiselect", "text_input", "text_area",
    "number_input", "date_input", "time_input", "tabs",
)  # fmt: skip
LEAKED = re.compile(r"Traceback|File \"|/tmp/|SELECT |sqlite|psycopg|pydantic|KeyError|AttributeError")


def app_of(c: Centre, page: str, query: dict[str, Any]) -> AppTest:
    """A page at an address."""
    serve.start(c.ledger, take, state=state_now)
    tablets.forget_all()
    app = app_at(page)
    for name, value in query.items():
        app.query_params[name] = value
    return app.run()


def drawn(app: AppTest) -> Iterator[str]:
    """Every text on the page that Markdown draws."""
    for kind in MARKDOWN:
        yield from (str(one.value) for one in getattr(app, kind))
    for kind in LABELLED:
        yield from (str(one.label) for one in getattr(app, kind))
    for group in app.button_group:
        yield str(group.label)
        yield from (str(option) for option in group.options)


def shown(app: AppTest) -> str:
    """All that a page says."""
    lists = [str(option) for one in (*app.selectbox, *app.multiselect) for option in one.options]
    return "\n".join([*drawn(app), *(str(one.value) for one in app.text), *lists])


def refuse_traceback(app: AppTest) -> None:
    """No page breaks, and none tells of the program's inside."""
    assert not app.exception, [one.message for one in app.exception]
    assert not LEAKED.search(shown(app)), LEAKED.search(shown(app))


def told_on(app: AppTest) -> list[str]:
    """What a page tells of an act or an address; how long ago a session was is told on any day."""
    told = [unescaped(str(one.value)) for one in (*app.error, *app.warning)]
    return [one for one in told if not one.startswith("This session is of ")]


def not_open(app: AppTest) -> str:
    """Why a page is not open to whoever is signed in; empty where it is."""
    parts = [unescaped(str(one.value)) for one in app.markdown]
    return next((after for one, after in pairwise(parts) if one == "## This page is not open to you."), "")


def unescaped(text: str) -> str:
    """What people read of a text that Markdown draws."""
    return re.sub(r"\\(?=[^\w\s])", "", text)


# --- hostile names on every page ----------------------------------------------------------------------------------

BAITED = (
    "GroupMade.name", "MarksGiven.notes", "MarksGiven.why", "AttemptClosed.reason", "AttemptOpened.elsewhere",
    "JointLineAgreed.why", "Withdrawn.why", "FindingAnswered.reason", "UnitCared.note", "SitePlanned.plan",
    "ProofSeen.paper", "ExamTaken.items", "AdjustmentApproved.how", "InterestNoted.note", "FaultAnswered.note",
)  # fmt: skip
GENERATED = re.compile(r"[a-z0-9-]+\.(?:pdf|csv|svg|png|zip)")
SIGNS = re.compile(r"(?<!\\)(?:[*`_\[$]|<(?=[a-z/]))")
"""A sign of Markdown that nothing in front of it makes plain."""


BAIT = "*M* [x](http://h.example) ![i](http://h.example/i) <b>b</b> `c` $x$"


def baited(c: Centre) -> Centre:
    """The text as the name of everybody and everything, told apart by what stands before it; and in every note."""
    filled(c)
    people = (c.amaru, c.zoe, c.lead, c.second, c.assistant, c.candidate)
    for number, person in enumerate(people):
        renamed(c, f"{number} {BAIT}", person)
    renamed(c, f"U {BAIT}", c.unit_a, "label")
    renamed(c, f"C {BAIT}", c.course, "title")
    for number, session in enumerate(c.sessions.values()):
        renamed(c, f"S{number} {BAIT}", session, "title")
    for place in BAITED:
        READY[place](c)(BAIT)
    return c


def with_account(c: Centre) -> Centre:
    """The same, and the lead signs in by the text too."""
    baited(c)
    READY["AccountMade.sign_in"](c)(BAIT)
    return c


def _opened(name: str, query: dict[str, str], paper: str = "") -> Callable[[Centre, str], AppTest]:
    """A page with somebody chosen on it, and a paper where it asks for one."""

    def opened(c: Centre, text: str) -> AppTest:
        assert text == BAIT, "the centre is called by another text"
        app = app_of(c, name, {key: _id_of(c, value) for key, value in query.items()})
        for label, person in (("Who", c.lead), ("Student", c.amaru)):
            for group in [one for one in app.button_group if one.label.startswith(label)]:
                group.set_value(person)
        app.run()
        for box in [one for one in app.selectbox if one.label == "Whose data?"]:
            box.set_value(c.amaru).run()
        return app.segmented_control(key="paper-name").set_value(paper).run() if paper else app

    return opened


def page(name: str, paper: str = "", **query: str) -> Drive:
    """A page of a centre in which everything is called by the text; literal where Markdown draws nothing of it."""
    opened = _opened(name, query, paper)

    def act(c: Centre, text: str) -> Said:
        app = opened(c, text)
        refuse_traceback(app)
        return Said(kept=_literal(app, text))

    return Drive("pages", baited, act)


def downloads(name: str, pressed: str = "", paper: str = "", **query: str) -> Drive:
    """The names of the files that a page offers, of a centre in which everything is called by the text."""
    opened = _opened(name, query, paper)

    def act(c: Centre, text: str) -> Said:
        names: list[str] = []
        offered = ButtonMixin._download_button

        def noted(*given: Any, **more: Any) -> Any:
            names.append(str(more["file_name"]))
            return offered(*given, **more)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(ButtonMixin, "_download_button", noted)
            app = opened(c, text)
            for button in [one for one in app.button if one.label == pressed]:
                button.click().run()
        refuse_traceback(app)
        assert not [one for one in names if not GENERATED.fullmatch(one)], names
        return Said(kept=" ".join(sorted(set(names))))

    return Drive("pages", baited, act)


def _id_of(c: Centre, name: str) -> str:
    return {
        "amaru": c.amaru, "pool": c.sessions["pool-22"], "unit": c.unit_a, "skill": POOL_SKILL,
        "event": first_event(c, c.amaru),
    }.get(name, name)  # fmt: skip


def _literal(app: AppTest, text: str) -> str:
    """The text, if the page has it and each sign in front of which it matters is made plain; else what is drawn."""
    plain = unescaped(shown(app))
    assert text in plain, "the page does not show it"
    for part in drawn(app):
        if text in unescaped(part) and (raw := _raw(part, text)):
            return f"Markdown draws {raw!r} in {part!r}"
    return text


def _raw(part: str, text: str) -> str:
    """The text in a drawn part as Markdown would take it: empty where every sign of it is made plain."""
    signs = "".join(rf"\\?{re.escape(letter)}" for letter in text)
    for found in re.finditer(signs, part):
        if SIGNS.search(found[0]):
            return found[0]
    return ""


PAGES: dict[str, Drive] = {
    **{
        name: page(name)
        for name in (
            "class",
            "course",
            "day",
            "findings",
            "gates",
            "hours",
            "mark",
            "observers",
            "figures",
            "papers",
            "people",
            "privacy",
            "ready",
            "slate",
            "standards",
            "student",
            "today",
            "units",
            "why",
        )
    },
    "papers, several": page("papers", SEVERAL),
    "course, a cell": page("course", student="amaru", skill="skill"),
    "student, one's own": page("student", student="amaru"),
    "units, one unit": page("units", unit="unit"),
    "today, a session": page("today", session="pool"),
    "why, a standing": page("why", student="amaru", skill="skill"),
    "why, a session": page("why", session="pool"),
    "why, an entry": page("why", event="event"),
    "standards, history": page("standards", view="history"),
    "standards, move": page("standards", view="move"),
    "people, accounts": replace(page("people"), place="page with accounts", ready=with_account),
}
DOWNLOADS: dict[str, Drive] = {
    **{name: downloads(name) for name in ("class", "day", "figures", "findings", "hours", "observers", "slate")},
    "papers": downloads("papers", "Put the audit file together"),
    "papers, several": downloads("papers", "Print 2 papers", SEVERAL),
    "privacy": downloads("privacy", "Put it together"),
    "student's own": downloads("student", student="amaru"),
    "why, a standing": downloads("why", student="amaru", skill="skill"),
}


# --- hostile addresses --------------------------------------------------------------------------------------------


NOT_YOURS = ("Only whoever is ", "A PIN is not enough to ")
"""How a page begins to say whose something is, in the place of what acts."""


def url(name: str, *params: str) -> Drive:
    """A page whose address holds the text: the sentence that it tells, else the sentence that leads it as ever."""

    def act(c: Centre, text: str) -> Said:
        text = _ids_in(c, text)
        app = app_of(c, name, dict.fromkeys(params, text))
        refuse_traceback(app)
        if closed := not_open(app):
            return Said(refused=closed)
        whose = [one for one in (unescaped(str(each.value)) for each in app.caption) if one.startswith(NOT_YOURS)]
        leads = [unescaped(str(one.value)) for one in app.title] or whose
        told = [one.replace(c.ledger.head().chain[:8], "$chain") for one in told_on(app)]
        return Said(refused=told[0]) if told else Said(kept=leads[0])

    return Drive("addresses", filled, act)


def _ids_in(c: Centre, text: str) -> str:
    names = {
        "$amaru": c.amaru, "$unit": c.unit_a, "$pool": c.sessions["pool-22"], "$course": c.course,
        "$chain": c.ledger.head().chain[:8], "$lead": c.lead, "$zoe": c.zoe,
    }  # fmt: skip
    for name, own in names.items():
        text = text.replace(name, own)
    return text


URLS: dict[str, Drive] = {
    "mark?attempt=": url("mark", "attempt"),
    "mark?attempt=&sheet=": url("mark", "attempt", "sheet"),
    "mark?line=": url("mark", "line", "session", "by", "students", "skill"),
    "today?attempt=": url("today", "attempt"),
    "today?session=": url("today", "session"),
    "course?course=": url("course", "course"),
    "course?student=&skill=": url("course", "student", "skill"),
    "why?event=": url("why", "event"),
    "why?finding=": url("why", "finding"),
    "why?session=": url("why", "session"),
    "why?student=": url("why", "student", "skill"),
    "units?slip=": url("units", "slip"),
    "units?unit=": url("units", "unit"),
    "figures?figure=": url("figures", "figure"),
    "gates?course=": url("gates", "course"),
    "day?course=": url("day", "course"),
    "privacy?person=": url("privacy", "person"),
    "health?x=": url("health", "x"),
    "slate?session=&slate=": url("slate", "session", "slate"),
    "student?student=": url("student", "student"),
    "standards?view=": url("standards", "view"),
    "standards?skill=": url("standards", "skill"),
    "hours?session=": url("hours", "session"),
    "findings?finding=": url("findings", "finding"),
    "mark?also=": url("mark", "also"),
}


# --- files that are handed over -----------------------------------------------------------------------------------


def handed_over(c: Centre) -> tuple[Centre, Any]:
    """The Mark page with an attempt begun, so that a file of waiting marks could be about it."""
    return c, c.open()


def upload(made: tuple[Centre, Any], text: str) -> Said:
    """A file on the Mark page; what the page says, or that it is not of a kind that it takes."""
    c, opened = made
    name, content = file_of(c, opened, text)
    app = app_of(c, "mark", {})
    if not app.file_uploader:
        refuse_traceback(app)
        return Said(refused=not_open(app) or "not offered")
    (box,) = app.file_uploader
    if name.rpartition(".")[2].lower() not in {kind.lstrip(".") for kind in box.allowed_type}:
        return Said(refused="not offered: json alone")
    box.set_value((name, content, "application/json")).run()
    refuse_traceback(app)
    told = told_on(app)
    if not told and any(button.label.startswith("Take in") for button in app.button):
        next(button for button in app.button if button.label.startswith("Take in")).click().run()
        refuse_traceback(app)
        told = told_on(app)
    said = " ".join(told) or " ".join(unescaped(str(one.value)) for one in app.markdown if "**" in str(one.value))
    return Said(refused=said.replace("  \n", " "))


def file_of(c: Centre, opened: Any, text: str) -> tuple[str, bytes]:
    """A file by a few words: `name: what`, what being bytes by a name or changes to a good file in JSON."""
    name, _, what = text.partition(": ")
    good = tap(c, opened, "marks_given/1", {"marks": [{"step": "co-hand", "mark": "done"}]})
    plain: dict[str, Any] = {"form": "course waiting taps/1", "centre": c.ledger.centre_id, "items": [good], "count": 1}
    if what in BYTES:
        return name, BYTES[what]
    changes = json.loads(what)
    plain["items"] = [good | change for change in changes.pop("taps", [{}])]
    plain["count"] = len(plain["items"])
    return name, json.dumps(plain | changes).encode()


def _bomb() -> bytes:
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("taps.json", b" " * 20_000_000)
    return out.getvalue()


BYTES = {
    "empty": b"", "zip bomb": _bomb(), "5 MB of blanks": b" " * 5_000_000, "deep": b"[" * 100_000,
    "cut off": b'{"form": "course waiting taps/1", "items": [', "a picture": b"\x89PNG\r\n\x1a\n" + bytes(40),
    "half letters": b"\xff\xfe\xfa", "a long number": b'{"form": ' + b"9" * 5000 + b"}",
    "a list": b"[]", "null bytes": bytes(64), "markup": b"<script>alert(1)</script>",
}  # fmt: skip
UPLOADS = {"Mark: file of waiting marks": Drive("uploads", handed_over, upload)}
