"""The Figures page: what to read on a unit with what it should say, and one quantity from inputs to a picture."""

from __future__ import annotations

from html import unescape

import pytest
from centre_builder import Centre, seen_at
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions.pad import take
from course.actions.readings import take_reading
from course.answers.figures import FigureRow, asked, figure_table
from course.errors import NotFoundError, RefusedError
from course.physics.field_names import field_label
from course.physics.quantity import Choice, Input, Text
from course.physics.registry import GROUPS, REGISTRY
from course.physics.result import DEFERS
from course.screens import serve
from course.screens.figure_page import example
from course.screens.figure_parts import curves_chart
from course.words import ReadingKind


def row(c: Centre, step: str, unit: str | None = None) -> FigureRow:
    return next(one for one in figure_table(c.view(), unit or c.unit_a).rows if one.step.startswith(step))


def page(c: Centre, **query: str) -> AppTest:
    serve.start(c.ledger, take)
    app = app_at("figures")
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    return "\n".join(str(one.value) for one in (*app.markdown, *app.caption, *app.warning, *app.code)).replace("\\", "")


def _asked(one: Input | Choice | Text) -> bool:
    return not (isinstance(one, Input) and one.optional)


# --- the table -------------------------------------------------------------------------------------------------------


def test_each_row_says_what_to_read_what_it_should_say_and_why(small_centre: Centre) -> None:
    found = row(small_centre, "Read every cell's millivolts in air")
    assert found.read == "cell in air, cell voltage"
    assert "at least 8 mV, at most 13 mV (unit manual)" in found.should
    assert found.why.startswith("A cell that drops from day to day is ending.")
    assert found.last == ""


def test_a_row_tells_what_an_error_there_leads_to_in_numbers(small_centre: Centre) -> None:
    found = row(small_centre, "Flush with diluent and compare")
    assert "After a diluent flush at 15 m every cell ought to show" in found.why


def test_the_last_reading_of_the_unit_stands_in_its_row_and_leads_when_it_is_outside(small_centre: Centre) -> None:
    c = small_centre
    amounts = {"mv_air": "7", "humidity": "0", "temperature": "20", "least": "8", "most": "13"}
    take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, amounts, seen_at(22), cell=1)
    found = row(c, "Read every cell's millivolts in air")
    assert found.last.startswith("Thu 22 Oct 14:00: Cell 1 in air: 7 mV")
    assert found.outside
    assert figure_table(c.view(), c.unit_a).sentence.endswith("1 last reading outside its bounds.")
    assert row(c, "Read every cell's millivolts in air", c.unit_b).last == ""


def test_one_cell_outside_its_bounds_is_told_although_another_was_read_after_it(small_centre: Centre) -> None:
    c = small_centre
    around = {"humidity": "0", "temperature": "20", "least": "8", "most": "13"}
    for cell, mv in ((1, "7"), (2, "10")):
        take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, {"mv_air": mv, **around}, seen_at(22), cell=cell)
    found = row(c, "Read every cell's millivolts in air")
    assert found.outside
    assert "Cell 1 in air: 7 mV" in found.last
    assert "Cell 2" not in found.last
    take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, {"mv_air": "9", **around}, seen_at(23), cell=1)
    found = row(c, "Read every cell's millivolts in air")
    assert not found.outside
    assert "Cell 1 in air: 9 mV" in found.last
    assert "Cell 2 in air: 10 mV" in found.last


# --- one quantity ----------------------------------------------------------------------------------------------------


_UNFILLED = sorted(
    name for name, one in REGISTRY.items() if any(example(name, i) == "" and _asked(i) for i in one.inputs)
)


@pytest.mark.parametrize("name", sorted(set(REGISTRY) - set(_UNFILLED)))
def test_a_quantity_is_told_from_its_fields_as_they_stand(name: str) -> None:
    found = asked(name, {one.key: example(name, one) for one in REGISTRY[name].inputs})
    assert found.answer.has_number == (name != "scrubber-minutes")  # that one needs the centre's own figure
    assert found.assumed.startswith("Assumed: ")


@pytest.mark.parametrize("name", _UNFILLED)
def test_a_quantity_with_an_empty_field_says_which(name: str) -> None:
    with pytest.raises(RefusedError, match="Nothing was computed"):
        asked(name, {one.key: example(name, one) for one in REGISTRY[name].inputs})


def test_a_quantity_that_nobody_knows_is_refused() -> None:
    with pytest.raises(NotFoundError):
        asked("safe-time", {})


def test_outside_its_validity_there_is_a_reason_and_no_number() -> None:
    found = asked("oxygen-pressure", {"oxygen": "0.21", "depth": "400"})
    assert found.head.startswith("No number. ")
    assert "this holds from 0 to 150" in found.head
    assert found.words == ""


def test_the_page_shows_a_band_a_picture_source_cautions_and_the_same_as_a_command(small_centre: Centre) -> None:
    app = page(small_centre)
    told = words(app)
    assert "0.9 to 9.5 min" in told  # 0.54 bar at 0.5 to 3 L/min in 5 to 8 L, as in tests of the loop
    assert "never a time that is safe" in told
    assert "Source: " in told
    assert DEFERS in told
    assert "This is no dive plan and no permission" in told
    assert "course calc oxygen-off-minutes po2=0.7 limit=0.16" in told
    assert len(app.get("vega_lite_chart")) + len(app.get("arrow_vega_lite_chart"))


def test_a_change_of_an_input_changes_number_and_picture(small_centre: Centre) -> None:
    app = page(small_centre)
    app.text_input(key="figure-oxygen-off-minutes-po2").set_value("1.3").run()
    assert "2.0 to 20.0 min" in words(app)


def test_what_cannot_be_read_is_asked_back_on_the_page(small_centre: Centre) -> None:
    app = page(small_centre)
    app.text_input(key="figure-oxygen-off-minutes-po2").set_value("13").run()
    assert not app.exception
    assert "Is 1.3 meant" in words(app)


def test_every_figure_stands_in_one_table_with_its_unit_equation_and_source(small_centre: Centre) -> None:
    app = page(small_centre)
    told = unescape("".join(str(one.proto.body) for one in app.get("html")))
    for title, group in GROUPS.items():
        assert title in told
        for one in group:
            assert all(text in told for text in (one.name, one.what, one.words, one.source)), one.name


def test_a_flood_has_no_number_and_leads_to_the_unit(small_centre: Centre) -> None:
    app = page(small_centre, figure="mouthpiece-oxygen")
    app.selectbox(key="figure-mouthpiece-oxygen-place").set_value("underwater")
    app.run()
    assert "nothing is computed" in words(app)
    assert not app.exception
    (button,) = [one for one in app.button if one.label.startswith("Choose a unit above")]
    assert button.disabled
    app.selectbox(key="figures-unit").set_value(small_centre.unit_a).run()
    next(one for one in app.button if one.label == "Open the unit to record it as flooded").click().run()
    assert not app.exception
    assert any("A-05" in title.value for title in app.title)


def test_an_address_can_name_a_figure(small_centre: Centre) -> None:
    app = page(small_centre, figure="flush-po2")
    assert "After a diluent flush at 10 m every cell ought to show" in words(app)


# --- how it is shown -------------------------------------------------------------------------------------------------


def tables(app: AppTest) -> str:
    return "".join(str(one.proto.body) for one in app.get("html"))


def test_the_table_goes_skill_by_skill_and_one_skill_can_be_looked_at_alone(small_centre: Centre) -> None:
    app = page(small_centre)
    assert tables(app).count('scope="rowgroup"') > 5 + len(GROUPS)
    app.selectbox(key="figures-skill").set_value("Check and calibrate the oxygen cells").run()
    assert tables(app).count('scope="rowgroup"') == 1 + len(
        GROUPS
    )  # the table of every figure has a group of its own for each
    assert 'data-head="What it should say" class="long">within the manual&#x27;s millivolts' in tables(app)
    assert "Last time" not in tables(app)  # of any unit nothing was read


def test_a_reading_outside_its_bounds_is_told_by_a_word_in_the_units_own_table(small_centre: Centre) -> None:
    c = small_centre
    amounts = {"mv_air": "7", "humidity": "0", "temperature": "20", "least": "8", "most": "13"}
    take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, amounts, seen_at(22), cell=1)
    app = page(c)
    app.selectbox(key="figures-unit").set_value(c.unit_a).run()
    assert 'data-head="Last time" class="long">▌ outside. Thu 22 Oct 14:00: Cell 1 in air: 7 mV' in tables(app)


_LETTERS_OF_A_PHONE = 30
"""Of a line under a picture at 390 pixels; 36 were cut off, and with them which end a line stands for."""


@pytest.mark.parametrize("quantity", ["oxygen-off-minutes", "mouthpiece-narcotic-depth", "valve-open-minutes"])
def test_each_line_of_a_picture_has_strokes_and_words_of_its_own(quantity: str) -> None:
    one = REGISTRY[quantity]
    found = asked(quantity, {each.key: example(quantity, each) for each in one.inputs}).picture
    assert found is not None
    ends = [found.end_words(curve) for curve in found.series.curves]
    assert len(set(ends)) == len(ends) == 4
    assert max(map(len, [*ends, found.unknown])) <= _LETTERS_OF_A_PHONE
    lines = curves_chart(found).to_dict()["layer"][0]["encoding"]["strokeDash"]
    strokes = lines["scale"]["range"]
    assert len(strokes) == len({tuple(stroke) for stroke in strokes}) == len(ends)
    assert lines["scale"]["domain"] == ends
    assert lines["legend"]["title"] == found.unknown == "metabolism, loop with lungs"


def test_a_long_title_of_an_axis_stands_in_lines_so_that_nothing_is_cut_off() -> None:
    given = {"po2": "0.7", "depth": "10", "seconds": "20", "minutes": "1"}
    found = asked("mouthpiece-po2-in-time", given).picture
    assert found is not None
    title = curves_chart(found).to_dict()["layer"][0]["encoding"]["x"]["title"]
    assert " ".join(title) == found.along == "minutes from opening, open 20 s, down at 18 m/min"
    assert len(title) > 1
    assert all(len(line) <= 36 for line in title)


def test_a_field_is_labelled_in_words_with_its_unit() -> None:
    labels = {field_label(one) for quantity in REGISTRY.values() for one in quantity.inputs}
    assert "PO2: in the loop at the start (bar)" in labels
    assert "Millivolts in air: what the cell shows in air (mV)" in labels
    assert "Metabolism: oxygen used, litres at 0 °C, 1 atm, dry (L/min, from..to)" in labels
    assert not [label for label in labels if "_" in label or "degC" in label or label.startswith(("Po2", "Vo2", "Mv "))]
