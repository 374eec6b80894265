"""One form for whatever is edited by form: part by part, with every flaw at its field and the difference before saving.

What was typed is kept in a draft that names the adoption it began from. Whoever saves second has both changes joined
field by field; where both changed the same field it is shown side by side, and nothing is saved until it is chosen.
Every button of the form sends all that was typed, so that nothing is lost by going from part to part.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

import streamlit as st

from course.access import Act
from course.actions.standards import adopt_revision
from course.answers.standards_answer import changes_between, history
from course.screens import choices, controls
from course.screens.form_fields import flaws
from course.screens.frame import Screen, end, literal, plain, telling
from course.standards.editing import Edited
from course.standards.editors import Editor
from course.standards.field_labels import LABELS
from course.standards.merging import Choice, Conflict
from course.standards.plain import Path
from course.standards.skill_form import SkillForm
from course.standards.standards import Standards
from course.standards.told_conflicts import place_told, value_told, words_in
from course.storage.lookup import adopted
from course.words import plural

LOOK, SAVE, AGAIN = "Look and save", "Save as a new revision", "Start again"
CHOICE_WORDS = {Choice.MINE: "mine", Choice.THEIRS: "theirs", Choice.BOTH: "both changes"}

F = TypeVar("F")
Drawn = tuple[F, Callable[[F], F] | None]
"""A form as typed, and what a button inside it does to it, if one was pressed."""


@dataclass(frozen=True)
class Part(Generic[F]):
    """One part of a form; the others are a button away."""

    title: str
    draw: Callable[[F, str, Edited | None], Drawn[F]]
    """Draws the fields from the form, with a beginning for their keys and the flaws to show."""
    owns: tuple[str, ...]
    """Fields whose flaws are told here."""


@dataclass(frozen=True)
class Draft(Generic[F]):
    """One thing as somebody is filling it in, and the adoption it began from."""

    began_from: str
    form: F
    revision: str
    part: int = 0
    generation: int = 0
    """Part of every field's key: a new generation draws all fields anew from the form."""
    checked: bool = False
    choices: Mapping[Path, Choice] = field(default_factory=dict)


@dataclass(frozen=True)
class Desk(Generic[F]):
    """What is edited, how it is drawn, and what is said of it."""

    screen: Screen
    in_force: str
    editor: Editor[F]
    parts: Sequence[Part[F]]
    saved: Callable[[F, str], str]
    """The sentence after saving, from the form and the revision."""
    consequences: Callable[[Edited, Standards], None] = lambda *_: None
    """Tells what follows from a sound change."""

    @property
    def now(self) -> Standards:
        """What is in force."""
        return adopted(self.screen.ledger, self.in_force).standards

    def standards(self, draft: Draft[F]) -> Standards:
        """What a draft began from."""
        return adopted(self.screen.ledger, draft.began_from).standards

    def fresh(self, generation: int = 0) -> Draft[F]:
        """A draft of what is in force."""
        form = self.editor.began(self.now)
        if form is None:
            end()
        return Draft(self.in_force, form, self.editor.suggest(self.now), generation=generation)

    def keep(self, draft: Draft[F]) -> Draft[F]:
        """Keep a draft over the next run."""
        _drafts()[self.editor.name] = draft
        return draft


def _drafts() -> dict[str, Draft[Any]]:
    drafts: dict[str, Draft[Any]] = st.session_state.setdefault("standards-drafts", {})
    return drafts


def edit(desk: Desk[F]) -> None:
    """Draw the draft, and do what its buttons ask for."""
    draft = _drafts().get(desk.editor.name) or desk.keep(desk.fresh())
    began = desk.standards(draft)
    found = desk.editor.judge(began, draft.form, draft.revision)
    name = desk.editor.name.replace(" ", "-")
    with st.form(f"form-{name}", enter_to_submit=False):
        chosen = _overtaken(desk, draft) if draft.began_from != desk.in_force else {}
        goes_to = _part_buttons(desk.parts, draft, found)
        last = draft.part >= len(desk.parts)
        form, act, revision, who = draft.form, None, draft.revision, None
        if last:
            revision, who = _look(desk, draft, found, began)
        else:
            part, key = desk.parts[draft.part], f"{name}-{draft.generation}"
            form, act = part.draw(draft.form, key, found if draft.checked else None)
        saving, afresh, goes_to = _last_buttons(desk.parts, draft, goes_to)
    if afresh:
        _start_again(desk, draft)
    if act is None and goes_to is None and not saving:
        return
    typed = replace(draft, form=form, revision=" ".join(revision.split()), choices={**draft.choices, **chosen})
    if act is not None:
        typed = replace(typed, form=act(form), generation=draft.generation + 1)
    _go_on(desk, typed, goes_to, who, saving=saving)


def _start_again(desk: Desk[F], draft: Draft[F]) -> None:
    _drafts().pop(desk.editor.name, None)
    told = "What was taken out is left."
    if desk.editor.began(desk.now) is not None:
        desk.keep(replace(desk.fresh(draft.generation + 1), part=draft.part))
        told = "The form is as what is in force again."
    st.session_state["told"] = ("done", told)
    st.rerun()


def left_over(kind: str, known: Container[str]) -> dict[str, str]:
    """Drafts of things that somebody took out meanwhile: id to title, so that what was typed can still be read."""
    names = {name.removeprefix(f"{kind} "): draft for name, draft in _drafts().items() if name.startswith(f"{kind} ")}
    titles = {name: draft.form.title if isinstance(draft.form, SkillForm) else draft.form["title"]
              for name, draft in names.items() if name not in known}  # fmt: skip
    return {name: f"{title} (taken out meanwhile)" for name, title in titles.items()}


def _go_on(desk: Desk[F], typed: Draft[F], goes_to: int | None, who: str | None, *, saving: bool) -> None:
    """Keep what was typed, join it with a newer set or save it, and draw anew."""
    if goes_to is not None:
        typed = replace(typed, part=goes_to, checked=typed.checked or goes_to >= len(desk.parts))
    desk.keep(typed)
    if typed.began_from != desk.in_force:
        _join(desk, typed)
    elif saving:
        _save(desk, typed, who)
    st.rerun()


# --- two people at once ---------------------------------------------------------------------------------------------


def _overtaken(desk: Desk[F], draft: Draft[F]) -> dict[Path, Choice]:
    """Tell what somebody else saved since this draft began, and ask about each field that both changed."""
    ledger = desk.screen.ledger
    head = next(line.head for line in history(ledger) if line.in_force)
    st.warning(literal(f"A newer revision was saved while you were editing: {head}. Nothing of yours is lost."))
    with st.expander("What they changed"):
        for sentence in changes_between(ledger, draft.began_from, desk.in_force).sentences:
            st.text(sentence)
    joined = desk.editor.join(desk.standards(draft), desk.now, draft.form, draft.choices)
    if joined is None:
        st.warning(
            "They took out what you are editing. What you typed stays here to be read; it cannot be saved. "
            "“Start again” leaves it."
        )
        return {}
    if not joined.conflicts:
        st.markdown("No field was changed by both of you: whatever you press next puts both into this form.")
        return {}
    st.markdown(
        f"### {plural(len(joined.conflicts), 'field')} changed by both of you. Nothing is saved until you choose."
    )
    titles = words_in(desk.now, desk.editor.plain(draft.form), joined.value)
    asked = ((conflict, _ask(conflict, titles)) for conflict in joined.conflicts)
    return {conflict.path: choice for conflict, choice in asked if choice is not None}


def _ask(conflict: Conflict, titles: Mapping[str, str]) -> Choice | None:
    """The field side by side: what it was, mine, theirs."""
    where = place_told(conflict, titles)
    st.markdown(f"**{plain(where)}**")
    columns = st.columns(3)
    told = (("It was", conflict.base), ("Mine", conflict.mine), ("Theirs", conflict.theirs))
    for column, (head, value) in zip(columns, told, strict=True):
        column.caption(head)
        column.text(value_told(value, titles))
    options = [choice for choice in Choice if choice != Choice.BOTH or conflict.can_be_both]
    key = "choose-" + "-".join(map(str, conflict.path))
    return st.pills(f"Keep for {where}", options, format_func=CHOICE_WORDS.__getitem__, key=key)


def _join(desk: Desk[F], typed: Draft[F]) -> None:
    """Put a draft on top of what is in force, once no field is left open."""
    began, now = desk.standards(typed), desk.now
    joined = desk.editor.join(began, now, typed.form, typed.choices)
    if joined is None:
        return
    if joined.conflicts:
        count = plural(len(joined.conflicts), "field")
        st.session_state["told"] = ("warning", f"Choose for {count} first. Nothing was saved; what you typed is kept.")
        return
    revision = typed.revision if typed.revision != desk.editor.suggest(began) else desk.editor.suggest(now)
    form, generation = desk.editor.form(joined.value), typed.generation + 1
    desk.keep(Draft(desk.in_force, form, revision, len(desk.parts), generation, checked=True))
    st.session_state["told"] = ("done", "Both changes are in the form now. Look at what would change, then save.")


# --- parts ----------------------------------------------------------------------------------------------------------


def _part_buttons(parts: Sequence[Part[F]], draft: Draft[F], found: Edited) -> int | None:
    """The parts in a row; where it leads when one was pressed."""
    goes_to = None
    with st.container(horizontal=True, key="form-parts"):
        for number, part in enumerate(parts):
            wrong = sum(len(found.at(name)) for name in part.owns) if draft.checked else 0
            told = f"{part.title} · {wrong} to put right" if wrong else part.title
            if controls.turn(f"▸ {told}" if number == draft.part else told, key=f"part-{number}"):
                goes_to = number
        last = f"▸ {LOOK}" if draft.part >= len(parts) else LOOK
        if controls.turn(last, key="part-look"):
            goes_to = len(parts)
    return goes_to


def _last_buttons(parts: Sequence[Part[F]], draft: Draft[F], goes_to: int | None) -> tuple[bool, bool, int | None]:
    saving = False
    with st.container(horizontal=True, key="form-last"):
        if draft.part < len(parts):
            titles = [*(part.title for part in parts), LOOK]
            if controls.turn(f"Next: {titles[draft.part + 1]}", type="primary", key="part-next"):
                goes_to = draft.part + 1
        else:
            saving = controls.submit(Act.SET_UP, SAVE, type="primary", key="part-save")
        afresh = controls.turn(AGAIN, key="part-again")
    return saving, afresh, goes_to


def _look(desk: Desk[F], draft: Draft[F], found: Edited, began: Standards) -> tuple[str, str | None]:
    """What would change, what follows, the name of the revision and who saves."""
    _tell(desk, found)
    if found.sound and found.changes:
        desk.consequences(found, began)
    revision = draft.revision
    if desk.editor.suggest(began):
        key = f"{desk.editor.name}-{draft.generation}-revision"
        revision = st.text_input(LABELS["revision"], draft.revision, max_chars=24, key=key)
        flaws(found, "revision")
    people = {person.id: person.shown for person in desk.screen.centre.evaluators}
    return revision, choices.acting("Who saves?", people, "edit-who")


def _tell(desk: Desk[F], found: Edited) -> None:
    """What the draft would change, or how much is wrong with it and where."""
    if found.sound and not found.changes:
        st.markdown("### Nothing differs from what is in force.")
        return
    if found.sound:
        st.markdown("### This would change:")
        for sentence in found.changes.sentences:
            st.text(sentence)
        if any(skill.other_form for skill in found.changes.skills):
            st.caption("Attempts marked by the older form are kept and shown; under the newer one they do not count.")
        return
    count = sum(map(len, found.flaws.values())) + len(found.elsewhere)
    st.warning(f"{count} to put right first; each is told at its field. What you typed is kept.")
    owned = {name for part in desk.parts for name in part.owns}
    for part in desk.parts:
        for told in (told for name in part.owns for told in found.at(name)):
            st.text(f"{part.title}: {told}")
    unowned = (sentences for path, sentences in found.flaws.items() if (path or ("",))[0] not in {*owned, "revision"})
    for told in (*(told for sentences in unowned for told in sentences), *found.elsewhere):
        st.text(told)


def _save(desk: Desk[F], draft: Draft[F], who: str | None) -> None:
    if who is None:
        st.session_state["told"] = ("warning", "Say who saves. Nothing was saved; what you typed is kept.")
        return
    found = desk.editor.judge(desk.standards(draft), draft.form, draft.revision)
    if not found.sound:
        return
    if telling(adopt_revision)(desk.screen.ledger, who, found.files, draft.began_from):
        _drafts().pop(desk.editor.name, None)
        st.session_state["told"] = ("done", desk.saved(draft.form, draft.revision))
