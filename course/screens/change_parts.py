"""A unit change in mid-course: what carries over, what begins anew and what is new, shown before it is assigned."""

from __future__ import annotations

from html import escape

import streamlit as st

from course.access import Act
from course.actions import courses
from course.answers.unit_change import ChangeRow, UnitChange, unit_change
from course.screens import choices, controls, theme
from course.screens.frame import Screen, literal, plain, telling
from course.screens.unit_parts import done

_STYLE = f"""<style>
.change {{ overflow-x: auto; font-family: {theme.FONT_STACK}; color: {theme.INK}; }}
.change table {{ border-collapse: collapse; width: 100%; font-size: {theme.BODY}px; }}
.change th, .change td {{ text-align: left; vertical-align: top; padding: 8px 16px 8px 0; font-weight: 400;
  border: 0; border-top: 1px solid {theme.RULE}; min-width: 96px; }}
.change thead th {{ border-top: 0; border-bottom: 2px solid {theme.INK}; font-weight: 700; }}
.change small {{ display: block; font-size: {theme.SMALL}px; color: {theme.GREY}; }}
</style>"""
_HEAD = (
    "<thead><tr>" + "".join(f"<th scope='col'>{w}</th>" for w in ("Skill", "Becomes", "Now", "Then")) + "</tr></thead>"
)


def change_form(screen: Screen) -> None:
    """Choose student, unit and day; read what changes; only then assign."""
    seen = screen.course
    if not seen.students:
        st.text("Nobody is on the course yet. Add students on People.")
        return
    student = choices.one_of("Student", {s: seen.name(s) for s in seen.students}, "change-student")
    labels = {unit.id: unit.label for unit in sorted(seen.units.values(), key=lambda unit: unit.label)}
    unit = choices.one_of_many("Would dive", labels, "change-unit")
    day = st.date_input("From this day on", seen.usual_day, format="YYYY-MM-DD", key="change-day")
    if not student:
        return
    change = telling(unit_change)(seen, student, unit, day)
    if change is None:
        st.rerun()
    _table(change)
    if change.blocked:
        st.warning(literal(change.blocked))
    assigned = seen.course.assignment(student, day.isoformat())
    if assigned and assigned.unit == unit:
        st.text(f"{seen.name(student)} dives {labels[unit]} on that day already.")
    elif controls.button(
        Act.SET_UP,
        literal(f"Assign {labels[unit]} to {seen.name(student)} from that day on"),
        type="primary",
        key="assign",
    ):
        done(
            lambda: courses.assign_unit(
                screen.ledger, screen.actor(), seen.course.id, student, unit, day.isoformat()
            ),
            f"{seen.name(student)} dives {labels[unit]} from {day.isoformat()} on.",
        )  # fmt: skip


def _table(change: UnitChange) -> None:
    st.markdown(f"### {plain(change.sentence)}")
    if change.kept:
        st.text(change.kept)
    with st.expander(f"Skill by skill: {len(change.rows)}", expanded=True):
        st.html(
            f"{_STYLE}<div class='change'><table>{_HEAD}<tbody>{''.join(map(_row, change.rows))}</tbody></table></div>"
        )


def _row(row: ChangeRow) -> str:
    title = row.title if row.required else f"{row.title} (optional)"
    steps = "".join(f"<small>{escape(step)}</small>" for step in row.steps)
    cells = f"<td><b>{escape(row.carry.value)}</b></td><td>{escape(row.now)}</td><td>{escape(row.after)}</td>"
    return f"<tr><th scope='row'>{escape(title)}{steps}</th>{cells}</tr>"
