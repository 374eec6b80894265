"""What an error leads to in numbers: written in a rubric, held to the registry, told beside the error."""

from __future__ import annotations

import io
import re
from itertools import pairwise
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark, shipped_standards
from click.testing import CliRunner
from opened_page import app_at
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas
from strategies_rubrics import BENCH

from course.actions.pad import take
from course.answers.consequence import Consequence, consequence_of
from course.answers.skill_detail import skill_detail
from course.answers.student_page import student_page
from course.commands import main
from course.paper.curve_picture import CurvePicture
from course.paper.fonts import register_fonts
from course.paper.take_home import print_take_home
from course.physics import pictures, telling, written
from course.physics.registry import GROUPS, REGISTRY
from course.physics.result import DEFERS, Band
from course.screens import serve
from course.standards.figure import Figure
from course.standards.plain import At
from course.standards.rubric import StepError
from course.standards.standards import problem_of

STANDARDS = shipped_standards()
SHIPPED = [
    error for skill in STANDARDS.skills.values() for step in skill.steps for error in step.errors if error.figure
]


def told_of(error: StepError) -> Consequence:
    found = consequence_of(error)
    assert found is not None
    return found


def error_of(quantity: str, inputs: dict[str, str]) -> StepError:
    return StepError.model_validate(
        {
            "id": "left-shut",
            "label": "Left shut",
            "consequence": "PO2 falls unseen, and blackout comes without warning.",
            "figure": {"quantity": quantity, "inputs": inputs},
        }
    )


# --- in the file -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("quantity", "inputs", "field", "said"),
    [
        ("oxygen-of-minutes", {}, "quantity", 'Did you mean "oxygen-off-minutes"?'),
        ("oxygen-off-minutes", {"po": "1.3 bar"}, "po", 'takes no "po". Did you mean "po2"?'),
        ("oxygen-off-minutes", {}, "figure", "needs po2: in the loop at the start. Add po2: a number in bar"),
        ("oxygen-off-minutes", {"po2": "1.3 psi"}, "po2", '"psi" is another unit.'),
        ("oxygen-off-minutes", {"po2": "1.3"}, "po2", "The unit is missing."),
        ("oxygen-off-minutes", {"po2": "13 bar"}, "po2", "13 is outside of what this holds for: 0.01 to 3 bar"),
        ("oxygen-off-minutes", {"po2": "1 bar", "vo2": "1 L/min"}, "vo2", "it is given from-to"),
        ("oxygen-off-minutes", {"po2": "1..2 bar"}, "po2", "one number, not from-to"),
        ("oxygen-off-minutes", {"po2": "much"}, "po2", '"much" is no number with its unit.'),
        ("oxygen-off-minutes", {"po2": "0.1 bar"}, "inputs", "There is no number for this"),
        ("mouthpiece-oxygen", {"po2": "0.7 bar", "times": "2 L"}, "times", "This has no unit. Write the number alone."),
        ("days-otu", {"exposures": "today"}, "exposures", "of somebody's days, not of an error"),
        ("mouthpiece-oxygen", {"po2": "0.7 bar", "place": "bar"}, "place", "surface, underwater"),
    ],
)
def test_a_figure_that_gives_no_number_is_told_with_its_field(
    quantity: str, inputs: dict[str, str], field: str, said: str
) -> None:
    figure = {"quantity": quantity, "inputs": inputs}
    at = At({"id": "x1", "label": "Some error", "consequence": "Something comes of it.", "figure": figure})
    flaws = [problem_of(flaw, {"": at.value}) for flaw in Figure.flaws(at["figure"])]
    assert [flaw.field.rpartition(".")[2] for flaw in flaws][:1] == [field]
    assert said in f"{flaws[0].wrong} {flaws[0].remedy}"


def test_a_wrong_unit_in_a_file_is_told_with_file_line_and_field(tmp_path: Any) -> None:
    figure = 'figure: {quantity: oxygen-off-minutes, inputs: {po2: "1.3 psi"}}'
    old = "consequence: CO2 passes beside the scrubber and nothing shows it.\n"
    (tmp_path / "10_bench.yaml").write_text(BENCH.replace(old, f"{old}            {figure}\n"), encoding="utf-8")
    told = CliRunner().invoke(main, ["standards", str(tmp_path)])
    assert told.exit_code == 1
    wanted = "10_bench.yaml:29:66: skills[seat-head].steps[push-down].errors[tilted].figure.inputs.po2: "
    assert wanted + '"psi" is another unit. Write the number in bar, with bar behind it.' in told.output + told.stderr


def test_a_block_with_a_figure_can_be_a_key() -> None:
    one, other = (error_of("oxygen-off-minutes", {"po2": "1.3 bar"}).figure for _ in range(2))
    assert len({one, other}) == 1


# --- told ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("error", SHIPPED, ids=[error.id for error in SHIPPED])
def test_every_shipped_figure_is_two_sentences_with_assumptions_source_cautions_and_a_picture(error: StepError) -> None:
    told = told_of(error)
    assert all(sentence.endswith(".") and "{" not in sentence for sentence in told.sentences)
    assert [len(re.findall(r"[.!?](?= |$)", sentence)) for sentence in told.sentences] == [1, 1]
    assert "There is no number" not in told.sentences[0]
    assert told.assumed.startswith("Assumed: ")
    assert told.source
    assert told.cautions[-1] == DEFERS
    assert told.picture is not None
    assert all(len(curve.places) > 1 for curve in told.picture.series.curves)


def test_metabolism_and_volume_are_always_a_band_and_the_picture_has_both_ends() -> None:
    """0.7 to 0.16 bar: 0.54 x V / (VO2 x 1.01325 x 310.15/273.15 x 0.79), own arithmetic: 0.99 and 9.51 min."""
    told = told_of(error_of("oxygen-off-minutes", {"po2": "0.7 bar"}))
    assert "falls from 0.7 bar to 0.16 bar in 0.9 to 9.5 min" in told.sentences[0]
    assert "metabolism 0.5 to 3 L/min, loop with lungs 5 to 8 L" in told.assumed
    assert told.picture is not None
    assert told.picture.limit == 0.16
    assert len(told.picture.series.curves) == 4
    assert told.picture.series.along == "minutes"


def test_where_oxygen_is_gone_before_the_surface_the_second_sentence_says_so() -> None:
    told = told_of(error_of("ascent-po2", {"po2": "0.7 bar", "depth": "20 m"}))
    assert "oxygen is gone before: at 12 m" in told.sentences[1]
    assert (
        "leaves a PO2 of at most 0.16 bar out of 0.7 bar" in told.sentences[0]
    )  # 0.11 is the lowest end with a number


def test_a_picture_begins_where_every_end_has_a_number() -> None:
    told = told_of(error_of("mouthpiece-narcotic-depth", {"po2": "0.7 bar", "depth": "15 m", "set_point": "1.2 bar"}))
    assert told.picture is not None
    first = {curve.places[0] for curve in told.picture.series.curves}
    assert len(first) == 1
    assert first.pop() > 1.8 / 18  # minutes: 1.2 bar is more than the whole pressure above 1.8 m


def test_every_sentence_and_picture_belongs_to_a_registered_quantity() -> None:
    assert set(telling._SENTENCES) | set(pictures._DRAWN) <= set(REGISTRY)
    assert {how.quantity for how in pictures._DRAWN.values()} <= set(REGISTRY)


UNKNOWN = sorted(name for name, one in REGISTRY.items() if one.banded)
USUAL: dict[str, Any] = {
    "po2": 0.7, "limit": 0.16, "minutes": 2.0, "depth": 15.0, "depth_to": 5.0, "set_point": 1.2, "inflow": 8.0,
    "flush": 0.5, "loss": 20.0, "beside": 0.1, "seconds": 20.0,
    "flush_seconds": 20.0,
}  # fmt: skip
OWN: dict[str, dict[str, Any]] = {
    "descent-po2": {"depth": 0.0, "depth_to": 20.0},
    "valve-open-minutes": {"limit": 1.6},
    "valve-open-filling-minutes": {"limit": 1.6},
    "valve-short-minutes": {"inflow": 0.3},
    "valve-short-po2": {"inflow": 0.3},
}


OF_THE_LOOP = {one.name for group in ("Oxygen in the loop", "Errors and failures") for one in GROUPS[group]}
NOT_OF_TIME = {"leak-litres"}  # of a bench test, and no time is in it
PACED = {
    "ascent-po2": "minutes up at 9 m/min",
    "ascent-depth-at-po2": "minutes up at 9 m/min",
    "descent-po2": "minutes down at 18 m/min",
    "flush-po2": "seconds of diluent at 40 L/min",
    "mouthpiece-oxygen": "seconds open at the surface",
    "mouthpiece-helium-after-flush": "seconds of diluent at 40 L/min, open 20 s before",
    "mouthpiece-exchanged": "seconds open at the surface",
    "mouthpiece-po2-in-time": "minutes from opening, open 20 s, down at 18 m/min",
    "mouthpiece-narcotic-depth": "minutes down at 18 m/min, open 20 s before",
    "mouthpiece-nitrogen-at-depth": "minutes down at 18 m/min, open 20 s before",
}


@pytest.mark.parametrize("name", UNKNOWN)
def test_what_is_never_known_is_a_band_with_a_picture_that_has_a_curve_for_each_end(name: str) -> None:
    """Over time for everything of the loop, at a pace that is told; along what else changes otherwise."""
    one = REGISTRY[name]
    known = {**USUAL, **OWN.get(name, {})}
    given = {each.key: known[each.key] for each in one.inputs if each.key in known and each not in one.banded}
    answer = one.answer(**given)
    assert isinstance(answer, Band)
    assert answer.has_number, answer
    drawn = pictures.picture(one, given)
    assert drawn is not None
    assert len(drawn.series.curves) == 2 ** len(REGISTRY[drawn.series.quantity].banded)
    assert all(len(curve.places) > 1 for curve in drawn.series.curves)
    if name not in NOT_OF_TIME:
        assert drawn.series.along in {"minutes", "seconds", "flush_seconds"}
        assert all(later > earlier for c in drawn.series.curves for earlier, later in pairwise(c.places))
    if name in OF_THE_LOOP:  # no volume is in a steady state of carbon dioxide, and how much is breathed is
        unknown = {"vo2", "ventilation" if name == "co2-inspired" else "volume"}
        assert all({each.key for each in curve.over} == unknown for curve in drawn.series.curves)
    if name in PACED:
        assert drawn.along == PACED[name]
    if name.endswith("-minutes"):
        assert drawn.series.quantity == name.replace("-minutes", "-po2")  # its own model, not a neighbour's
        assert answer.highest is not None
        assert drawn.limit is not None
        for curve in drawn.series.curves:  # each one gets to the limit within the picture
            assert (curve.values[0] - drawn.limit) * (curve.values[-1] - drawn.limit) < 0
        assert max(curve.places[-1] for curve in drawn.series.curves) > answer.highest.exact
    if telling.has_sentences(one):
        assert "{" not in " ".join(telling.sentences(one, answer))


def test_calc_says_the_same_sentences() -> None:
    told = CliRunner().invoke(main, ["calc", "oxygen-off-minutes", "po2=0.7bar"])
    mine = told_of(error_of("oxygen-off-minutes", {"po2": "0.7 bar"}))
    assert f"In words: {mine.told}" in told.stdout


def test_what_a_file_writes_is_read_as_calc_reads_it() -> None:
    quantity = REGISTRY["oxygen-off-minutes"]
    inputs = {"po2": "1.3 bar", "vo2": "0.5..3 L/min", "diluent_oxygen": "0.21"}
    assert written.values_of(quantity, inputs) == {"po2": 1.3, "vo2": (0.5, 3.0), "diluent_oxygen": 0.21}


FLOOD = {"po2": "0.7 bar", "place": "underwater"}


def test_a_flood_is_told_in_two_sentences_without_a_number_or_a_picture_and_sends_the_unit_on_hold() -> None:
    told = told_of(error_of("mouthpiece-oxygen", FLOOD))
    assert told.sentences == (
        "Underwater gas goes out and water comes in: no air enters and nothing is computed.",
        "Record the unit as flooded; it goes on hold, and the manual says what a wet scrubber means.",
    )
    assert told.picture is None
    figure = error_of("mouthpiece-oxygen", FLOOD).figure
    assert figure is not None
    assert figure.is_flood
    dry = error_of("mouthpiece-oxygen", {"po2": "0.7 bar"}).figure
    assert dry is not None
    assert not dry.is_flood


def test_beside_the_numbers_stand_mode_validity_source_and_every_caution() -> None:
    told = told_of(error_of("ascent-po2", {"po2": "0.7 bar", "depth": "20 m"}))
    quantity = REGISTRY["ascent-po2"]
    assert (told.mode, told.validity, told.source) == ("physical", quantity.validity, quantity.source)
    assert told.cautions == (*quantity.cautions, DEFERS)


# --- beside the error ------------------------------------------------------------------------------------------------


def test_the_attempt_tells_it_and_only_where_the_error_was_seen(small_centre: Centre) -> None:
    clean, missed = small_centre.enter("pool-22"), small_centre.enter("pool-23", critical_mark())
    detail = skill_detail(small_centre.ledger, small_centre.view(), small_centre.amaru, POOL_SKILL, LAST_DAY)
    by_attempt = {one.attempt: one.in_numbers for one in detail.attempts}
    assert by_attempt[clean] == ()
    (told,) = by_attempt[missed]
    assert told.error == "Open as it leaves the mouth"
    assert "as narcotic as air at 29.1 to 31.9 m" in told.sentences[0]  # trade notes: 29.9 at half, 31.9 m at all air
    assert told.told in detail.text()
    assert detail.in_numbers == (told,)


def test_the_student_and_the_sheet_to_take_home_read_it_too(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    page = student_page(small_centre.view(), small_centre.amaru, LAST_DAY)
    (step,) = (step for skill in page.weak for step in skill.steps)
    assert step.in_numbers is not None
    out = io.BytesIO()
    assert print_take_home(page, out) == 1
    text = " ".join(PdfReader(out).pages[0].extract_text().split())
    assert step.in_numbers.told in text
    assert step.in_numbers.assumed in text


def test_course_and_the_students_own_page_show_it_with_a_picture(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    serve.start(small_centre.ledger, take)
    for page, query in (("course", {"skill": POOL_SKILL}), ("student", {})):
        app = app_at(page)
        for key, value in {"student": small_centre.amaru, **query}.items():
            app.query_params[key] = value
        app.run()
        assert not app.exception
        assert any("In numbers: Open as it leaves the mouth" in str(one.value) for one in app.markdown)
        (caption,) = (one for one in (c.value.replace("\\", "") for c in app.caption) if "Assumed: " in one)
        for part in ("Mode: physical.", "Valid: at the surface, in air", "Source: ", DEFERS):
            assert part in caption
        assert "Helium does not come back by breathing" in caption
        assert len(app.get("vega_lite_chart")) + len(app.get("arrow_vega_lite_chart"))


@pytest.mark.parametrize("quantity", ["oxygen-off-minutes", "mouthpiece-narcotic-depth", "loop-density"])
def test_the_paper_writes_beside_its_picture_what_is_drawn_and_which_strokes_stand_for_which_end(quantity: str) -> None:
    given = {"po2": 0.7, "set_point": 1.2, "depth": 30.0}
    one = REGISTRY[quantity]
    drawn = pictures.picture(one, {each.key: given[each.key] for each in one.inputs if each.key in given})
    assert drawn is not None
    register_fonts()
    page = io.BytesIO()
    canvas = Canvas(page)
    CurvePicture(drawn).drawOn(canvas, 60, 400)
    canvas.save()
    said = PdfReader(page).pages[0].extract_text()
    assert f"{drawn.drawn} by {drawn.along}" in said
    for curve in drawn.series.curves:
        assert drawn.line_words(curve) in said
    assert ("limit 0.16 bar" in said) == (quantity == "oxygen-off-minutes")
