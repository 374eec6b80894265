"""Readings on the Units page: what the unit showed over time, and the form that judges a new one before it is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict

import altair as alt
import streamlit as st

from course.access import Act
from course.actions.readings import MOST_CELLS, ForStep, readings_now, take_readings
from course.answers.csv_text import csv_text
from course.answers.unit_readings import ReadingPicture, steps_for_reading, unit_readings
from course.answers.units import UnitCard
from course.asker import asking, may_ask
from course.assessment.unit_readings import HOW, fields, quantity_of
from course.physics.field_names import field_label
from course.physics.quantity import Input
from course.screens import charts, choices, controls, theme
from course.screens.figure_parts import curves_chart
from course.screens.frame import Screen, plain, telling
from course.screens.unit_parts import at_now, done, said
from course.words import READING_WORDS, ReadingKind

_EACH = "a number a cell with spaces between, - for one not read"
_SHOWN = 6


def show_readings(screen: Screen, card: UnitCard, actor: str | None) -> None:
    """The history with its pictures, and a new reading."""
    found = unit_readings(screen.ledger, screen.course, card.unit)
    st.subheader("Readings", anchor=False)
    st.markdown(f"**{plain(found.sentence)}**")
    for picture in found.pictures:
        st.markdown(plain(picture.finding))
        charts.show(_history(picture), picture.finding, _data(picture), f"readings-{picture.what}")
    if found.pictures:
        st.caption("A filled sign is outside its bounds; short bars are the bounds that were written down with it.")
    for line in (*([found.age] if found.age else []), *found.drift):
        st.text(line)
    for vote in found.votes:
        st.text(("▌ " if vote.outvoted else "") + vote.sentence)
        if vote.picture:
            charts.show_small(curves_chart(vote.picture), vote.sentence)
    for one in found.lines[:_SHOWN]:
        st.text(("▌ " if one.outside else "") + one.sentence)
    if found.lines[_SHOWN:]:
        with st.expander("Earlier readings"):
            for one in found.lines[_SHOWN:]:
                st.text(("▌ " if one.outside else "") + one.sentence)
    if may_ask(Act.PRACTISE):
        asker = asking()  # whoever fills a sheet reads its unit too, without looking after it
        with st.expander("Write down a reading"):
            _form(screen, card, asker.person if asker else actor)
    st.caption(plain(" ".join((*found.grounds, found.caution))))


def _form(screen: Screen, card: UnitCard, actor: str | None) -> None:
    chosen = choices.one_of("What was read?", {kind.value: READING_WORDS[kind] for kind in ReadingKind}, "reading-what")
    if chosen is None:
        return
    what = ReadingKind(chosen)
    quantity = quantity_of(what)
    st.markdown(plain(f"{quantity.what[0].upper()}{quantity.what[1:]}. {' '.join(quantity.cautions)}"))
    steps = {one.attempt + one.step: one for one in steps_for_reading(screen.course, card.unit, actor or "", what)}
    each = HOW[what].each
    with st.form(f"reading-{what}"):
        first = int(st.number_input("Cell of the first number", 1, MOST_CELLS, 1)) if each else 1
        typed = {one.key: _field(one, what, each=one.key in each) for one in fields(what)}
        options = {"": "of none", **{key: one.words for key, one in steps.items()}}
        step = st.selectbox("It is also the value of a step", list(options), format_func=options.__getitem__)
        note = st.text_input("Note (if any)", max_chars=300)
        left, right = st.columns(2)
        looked = controls.turn("What does it say?", at=left, width="stretch")
        kept = controls.submit(Act.PRACTISE, "Keep it", at=right, type="primary", width="stretch")
    if looked:
        _look(screen, card, what, typed, first)
    if kept and said(actor):
        to = steps.get(step)
        done(
            lambda: take_readings(
                screen.ledger, str(actor), card.unit, what, typed, at_now(screen), first=first,
                for_step=ForStep(to.attempt, to.sheet, to.step) if to else None, note=note or None,
            ),
            f"The reading of {card.label} is kept.",
        )  # fmt: skip


def _field(one: Input, what: ReadingKind, *, each: bool) -> str:
    usual = "" if one.default is None or isinstance(one.default, tuple) else f"{one.default:g}"
    label = f"{field_label(one)}: {_EACH}" if each else field_label(one)
    return st.text_input(label, usual, max_chars=60 if each else 12, key=f"reading-{what}-{one.key}")


def _look(screen: Screen, card: UnitCard, what: ReadingKind, typed: Mapping[str, str], first: int) -> None:
    told = telling(readings_now)(screen.course.units[card.unit], what, typed, at_now(screen), first)
    if told:
        st.markdown("  \n".join(f"**{plain(one)}**" for one in told) + "  \nNothing is kept yet.")
    else:
        _, sentence = st.session_state.pop("told", ("", ""))
        st.warning(plain(str(sentence)))


def _history(picture: ReadingPicture) -> charts.LayeredChart:
    """Points over time, a cell to a shape; filled ones are outside, ticks are the bounds of each reading."""
    rows = [asdict(point) for point in picture.points]
    base = alt.Chart(alt.InlineData(values=rows)).encode(
        x=alt.X("when:T", title=None, axis=alt.Axis(format="%d %b", labelOverlap=True), scale=alt.Scale(padding=24))
    )
    value = alt.Y("value:Q", title=picture.unit, scale=alt.Scale(zero=False))
    lines = base.mark_line(aria=False, color=theme.RULE).encode(y=value, detail="cell:N")
    points = base.mark_point(aria=False, size=110, strokeWidth=2, color=theme.INK, opacity=1).encode(
        y=value,
        shape=alt.Shape("cell:N", legend=alt.Legend(orient="bottom", title=None)),
        fill=alt.condition("datum.outside", alt.value(theme.INK), alt.value(theme.PAPER)),
        tooltip=[alt.Tooltip("cell:N"), alt.Tooltip("value:Q", format=".3g"), alt.Tooltip("outside:N")],
    )
    bounds = [
        base.transform_filter(f"isValid(datum.{side})")
        .mark_tick(aria=False, thickness=2, size=26, color=theme.INK)
        .encode(y=alt.Y(f"{side}:Q", title=picture.unit))
        for side in ("least", "most")
    ]
    return alt.layer(lines, *bounds, points).properties(width=340, height=260)


def _data(picture: ReadingPicture) -> str:
    names = ("when", "value", "cell", "outside", "least", "most")
    return csv_text(names, [tuple(asdict(point)[name] for name in names) for point in picture.points])
