"""Parts of the Figures page: the table of what to read, and one quantity with band, picture, source and cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from course.access import Sight
from course.answers.csv_text import csv_text
from course.answers.figures import FigureAsked, FigureRow, FigureTable, asked, usual
from course.physics.field_names import field_label, named
from course.physics.listing import REFERENCE, reference_row
from course.physics.quantity import Choice, Input, Text
from course.physics.registry import GROUPS, REGISTRY
from course.physics.result import DEFERS, Band, mode_words
from course.physics.telling import is_flood
from course.places import PAGES
from course.screens import charts, choices, controls, offers
from course.screens.figure_parts import curves_chart
from course.screens.frame import Screen, plain, telling
from course.screens.wide_table import table
from course.words import listed

_SHOWN_OF_EACH = ("Name", "What", "Unit", "Equation", "Source")
_FIRST = "oxygen-off-minutes"
_EXAMPLES = {
    "po2": "0.7",
    "depth": "10",
    "depth_to": "20",
    "minutes": "30",
    "inflow": "8",
    "set_point": "1.3",
    "seconds": "20",
}
"""What stands in a field that has no usual value, so that a picture can be looked at before anything is typed."""
_FEW_MINUTES = {"minutes": "2"}
_EXAMPLES_OF: dict[str, dict[str, str]] = {
    "oxygen-off-po2": _FEW_MINUTES,
    "oxygen-off-shrinking-po2": _FEW_MINUTES,
    "oxygen-off-volume": _FEW_MINUTES,
    "valve-open-po2": _FEW_MINUTES,
    "valve-open-filling-po2": _FEW_MINUTES,
    "valve-short-po2": {**_FEW_MINUTES, "inflow": "0.3"},
    "valve-short-minutes": {"inflow": "0.3"},
    "co2-inspired": {"beside": "0.1"},
    "voting-hides": {"po2": "1.6", "limit_1": "1.2", "limit_2": "1.2"},
}
"""By quantity, where those give no number or say nothing."""


def example(name: str, each: Input | Choice | Text) -> str:
    """Return what stands in a quantity's field before anybody types."""
    if isinstance(each, Input) and each.optional:
        return usual(each)
    own = _EXAMPLES_OF.get(name, {})
    return own.get(each.key) or usual(each) or _EXAMPLES.get(each.key, "")


def choose_unit(screen: Screen) -> str | None:
    """The unit that is read; None: any."""
    names = {"": "any unit", **{unit.id: unit.label for unit in screen.course.units.values()}}
    return choices.one_of_many("Unit", names, "figures-unit") or None


def parts() -> tuple[DeltaGenerator, DeltaGenerator, DeltaGenerator]:
    """The page's three parts; an address that names a figure opens the second."""
    names = ("What to read", "What follows", "Every figure")
    to_read, to_reckon, every = st.tabs(names, default=names["figure" in st.query_params])
    return to_read, to_reckon, every


def reference_table() -> None:
    """Every registered quantity, group by group: a table, on a phone one block a quantity."""
    rows = [(title, reference_row(one)) for title, group in GROUPS.items() for one in group]
    shown = [REFERENCE.index(name) for name in _SHOWN_OF_EACH]
    table(_SHOWN_OF_EACH, [[row[place] for place in shown] for _, row in rows], groups=[title for title, _ in rows])
    st.caption(
        "What each takes, where it holds and its cautions stand in the file, and with the figure when it is asked."
    )
    every = csv_text(REFERENCE, [row for _, row in rows])
    offers.offer(Sight.FIGURES_FILE, "Every figure (CSV)", every, "every-figure.csv", "text/csv")


def choose_skill(found: FigureTable) -> str | None:
    """The skill that is looked at; None: every one."""
    counts = Counter(one.skill for one in found.rows)
    names = {"": f"every skill ({len(found.rows)})", **{skill: f"{skill} ({many})" for skill, many in counts.items()}}
    return choices.one_of_many("Skill", names, "figures-skill") or None


def reading_table(found: FigureTable, skill: str | None, *, with_last: bool) -> None:
    """What to read, what it should say, why, and what it said last: a table, on a phone one block a reading."""
    rows = [one for one in found.rows if skill in {None, one.skill}]
    heads = ("Step", "What to read", "What it should say", "Why", *(("Last time",) if with_last else ()))
    table(heads, [_cells(one)[: len(heads)] for one in rows], groups=[one.skill for one in rows])
    offers.offer(Sight.FIGURES_FILE, "What to read (CSV)", found.csv(), "figures.csv", "text/csv")


def _cells(one: FigureRow) -> tuple[str, ...]:
    last = ("▌ outside. " if one.outside else "") + (one.last or "nothing read")
    return one.step, one.read, one.should, one.why, last


def ask(unit: str | None = None) -> None:
    """One quantity: its inputs as they are typed, and all that its answer says; a flood leads to the unit."""
    names = {name: f"{one.what} ({one.unit})" if one.unit else one.what for name, one in REGISTRY.items()}
    wanted = st.query_params.get("figure", _FIRST)
    first = wanted if wanted in names else _FIRST
    ordered = {first: names[first], **names}
    name = choices.one_of_many("Figure", ordered, f"figure-{first}")
    one = REGISTRY[name]
    with st.expander("What goes in", expanded=True):
        given = {each.key: _field(name, each) for each in one.inputs}
    if lacking := [named(each.key) for each in one.inputs if not given[each.key] and not _may_be_empty(each)]:
        st.markdown(plain(f"Fill in: {listed(lacking)}."))
        st.caption(plain(f"Valid: {one.validity}. Source: {one.source}."))
        return
    found = telling(asked)(name, given)
    if found is None:
        _, sentence = st.session_state.pop("told", ("", ""))
        st.warning(plain(str(sentence)))
        st.caption(plain(f"Valid: {one.validity}. Source: {one.source}."))
        return
    _show(found, given)
    way = "Open the unit to record it as flooded" if unit else "Choose a unit above to record it as flooded"
    if is_flood(found.answer) and controls.way(way, page="units", disabled=unit is None):
        st.switch_page(PAGES / "units.py", query_params={"unit": str(unit)})


def _may_be_empty(each: Input | Choice | Text) -> bool:
    return isinstance(each, Input) and (each.optional or each.default is not None)


def _field(name: str, each: Input | Choice | Text) -> str:
    key = f"figure-{name}-{each.key}"
    label = field_label(each)
    if isinstance(each, Choice):
        options = [str(option) for option in each.options]
        return str(st.selectbox(label, options, options.index(usual(each)), key=key))
    if isinstance(each, Text):
        return st.text_input(label, "", key=key, max_chars=2000)
    return st.text_input(label, example(name, each), key=key, max_chars=24)


def _show(found: FigureAsked, given: Mapping[str, str]) -> None:
    answer, one = found.answer, found.quantity
    st.markdown(f"**{plain(found.head)}**  \n{plain(found.words)}")
    if isinstance(answer, Band):
        for reason in answer.reasons:
            if reason.casefold() not in found.words.casefold():
                st.markdown(plain(reason))
    if found.picture:
        said = found.words or found.head
        charts.show(curves_chart(found.picture, 340, 240), said, _csv(found), f"figure-{one.name}")
    mode = f"Mode: {mode_words(answer.mode)}. "
    st.markdown(plain(f"{mode}{found.assumed} Valid: {one.validity}. Source: {one.source}."))
    st.markdown("\n".join(f"- {plain(line)}" for line in (*one.cautions, DEFERS)))
    with st.expander("How it is reckoned"):
        st.markdown(plain(f"{one.words}. Rounded {one.side}, once, last."))
        typed = " ".join(f"{key}={text}" for key, text in given.items() if text)
        st.code(f"course calc {one.name} {typed}", language=None, wrap_lines=True)


def _csv(found: FigureAsked) -> str:
    if found.picture is None:
        return ""
    series = found.picture.series
    rows = [
        (", ".join(str(one) for one in curve.over), place, value)
        for curve in series.curves
        for place, value in zip(curve.places, curve.values, strict=True)
    ]
    return csv_text(("with", f"{series.along} {series.along_unit}".strip(), f"value {series.unit}".strip()), rows)
