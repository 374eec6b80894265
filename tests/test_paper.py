"""The competency record on paper: its words, its shapes, its bytes, and what it keeps out."""

import colorsys
import hashlib
import io
import os
import re
import subprocess
import sys
import unicodedata
from dataclasses import replace
from functools import cache
from itertools import takewhile
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdf
import pytest
from centre_builder import CRITICAL_ERROR, LAST_DAY, ODD_NAME, POOL_SKILL, Centre, critical_mark, seen_at
from record_examples import STUDENT, held_back, hex_digits, large_record, skill, small_record

from course.actions import amending, settling, signing
from course.answers.amendments import changes_by_skill
from course.answers.competency import competency_record
from course.answers.decisions import to_sign
from course.answers.paper_data import plain_of
from course.answers.record_answer import CompetencyRecord, PhaseLines
from course.answers.skill_detail import skill_detail
from course.errors import PaperError
from course.paper.competency_record import print_competency_record
from course.paper.frame import QUIET
from course.paper.marks import TONES
from course.paper.shapes import Shape, how_far, mark_shape, outcome_shape, standing_shape
from course.record.events import MarkGiven
from course.record.paper_code import read_paper_code
from course.record.paper_document import read_document
from course.storage.centre_key import key_from
from course.words import RECORD_NOTE, DecisionKind, Mark, Outcome, StandingState

GOLDEN = Path(__file__).parent / "golden" / "competency_record.txt"
POINTS_PER_MM = 72 / 25.4
KEY = key_from(b"a key for tests, no centre's own")
RECORDS = {"small": small_record, "large": large_record}
ODD_NAMES = [
    '<img src="/etc/passwd">',
    "<b>Bold",
    "Fish & Chips",
    "Nguyễn Thị Ánh",
    "Ωμέγα",
    "Щукина",
    "李小龍",
    "김민준",
]


def printed(record: CompetencyRecord, size: Any = "A4") -> pypdf.PdfReader:
    """The record as a PDF in memory."""
    file = io.BytesIO()
    pages = print_competency_record(record, file, size)
    reader = pypdf.PdfReader(file)
    assert len(reader.pages) == pages
    return reader


@cache
def large(size: Any = "A4") -> pypdf.PdfReader:
    """The large record, which takes a second to print, once for all that only read it."""
    return printed(large_record(), size)


def words(reader: pypdf.PdfReader) -> str:
    """All text with single spaces."""
    return unicodedata.normalize("NFC", " ".join(" ".join(page.extract_text() for page in reader.pages).split()))


def pictures(file: Path, folder: Path, dots_per_inch: int) -> list[Any]:
    """Every page in grey, rendered by Poppler, a library of its own."""
    subprocess.run(["pdftoppm", "-r", str(dots_per_inch), "-gray", "-png", file, folder / "page"], check=True)
    return [cv2.imread(str(picture), cv2.IMREAD_GRAYSCALE) for picture in sorted(folder.glob("page*.png"))]


def test_the_record_says_what_it_said_before() -> None:
    """After a wanted change: write `golden_text()` to the file anew and read the difference."""
    assert golden_text() == GOLDEN.read_text(encoding="utf-8")


def test_whoever_signs_reads_that_no_photo_is_kept_and_what_to_compare() -> None:
    told = " ".join(golden_text().split())
    assert "No photo of anybody is kept here: before you sign, compare the name with a document of the person." in told


def golden_text() -> str:
    """The small record's text, page by page."""
    pages = [page.extract_text().splitlines() for page in printed(small_record()).pages]
    return "".join(f"{' '.join(line.split())}\n" for page in pages for line in page if line.strip())


@pytest.mark.parametrize("name", ODD_NAMES)
def test_a_student_of_any_name_reads_back_as_written(name: str) -> None:
    """Read back by pypdf; nothing in a name is taken for markup."""
    reader = printed(small_record(student=name))
    assert f"Competency record: {name}" in words(reader)
    assert not any(page.images or "/Annots" in page for page in reader.pages)


@pytest.mark.parametrize(
    "field",
    [
        *("centre", "course", "course_days", "requirements", "requirements_notice", "student", "student_id"),
        *("birth_year", "unit_type", "unit", "as_of_words", "summary", "hours_note"),
    ],
)
def test_every_field_is_printed_as_letters(field: str) -> None:
    reader = printed(small_record(**{field: "<b>X & <img src='/etc/passwd'/>"}))
    assert "<b>X & <img src='/etc/passwd'/>" in words(reader)


def test_every_text_of_a_skill_is_printed_as_letters() -> None:
    """Title, sentence, rule, observers, critical error and decision hold what people wrote."""
    odd = "<i>A & B"
    lines = small_record().phases[0].skills
    critical = replace(
        lines[1].criticals[0], day=odd, step=odd, label=odd, consequence=odd, observers=(odd,), cleared=odd
    )
    decision = replace(lines[0].decision, sentence=odd, reason=f"{odd} because", stale=True)
    line = replace(
        lines[1], title=odd, sentence=odd, rule=odd, observers=(odd,), criticals=(critical,), decision=decision
    )
    record = small_record(phases=(PhaseLines(odd, (line,)),), adjustments=(odd,), cautions=(odd,))
    assert words(printed(record)).count(odd) >= 14


@pytest.mark.parametrize(
    ("name", "letter"),
    [
        ("สมชาย", "U+0E2A THAI CHARACTER SO SUA"),
        ("محمد", "U+0645 ARABIC LETTER MEEM"),
        ("Amaru 😀", "U+1F600 GRINNING FACE"),
    ],
)
def test_a_name_that_cannot_be_set_is_refused_and_no_file_appears(name: str, letter: str, tmp_path: Path) -> None:
    with pytest.raises(PaperError) as caught:
        print_competency_record(small_record(student=name), tmp_path / "record.pdf")
    assert letter in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_a_very_long_name_takes_pages_but_leaves_none_blank() -> None:
    """5,000 letters without a space, where a table would not fit the page."""
    name = ("Maximiliane-Wolfeschlegel" * 200)[:5000]
    long_skill = skill(name, StandingState.NOT_YET, f"Not yet: {name[:4000]}", "cx" * 40, rule=name[:4900])
    reader = printed(small_record(student=name, phases=(PhaseLines(name[:500], (long_skill, long_skill)),)))
    counts = [len(page.extract_text()) for page in reader.pages]
    assert min(counts) > 350
    assert "".join(words(reader).split()).count("Maximiliane-Wolfeschlegel") > 600


def test_same_data_gives_the_same_bytes_in_two_processes() -> None:
    """No time of printing, no order that differs from run to run (two seeds of Python's hash)."""
    code = (
        "import hashlib, io; from record_examples import large_record; "
        "from course.paper.competency_record import print_competency_record as p; "
        "f = io.BytesIO(); p(large_record(student='李 Ọ̀ṣun & Ωμέγα'), f); "
        "print(hashlib.sha256(f.getvalue()).hexdigest())"
    )
    here = Path(__file__).parent
    path = os.pathsep.join([str(here), str(here.parent)])
    seen = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(seen) == 1


def test_other_data_gives_other_bytes() -> None:
    prints = set()
    for student in (STUDENT, "Nkechi Brandvold"):
        file = io.BytesIO()
        print_competency_record(small_record(student=student), file)
        prints.add(hashlib.sha256(file.getvalue()).hexdigest())
    assert len(prints) == 2


@pytest.mark.parametrize(("size", "width_mm", "height_mm"), [("A4", 210.0, 297.0), ("Letter", 215.9, 279.4)])
def test_pages_have_the_size_asked_for(size: str, width_mm: float, height_mm: float) -> None:
    """A4: ISO 216. Letter: 8.5 by 11 inches."""
    for page in printed(small_record(), size).pages:
        assert float(page.mediabox.width) / POINTS_PER_MM == pytest.approx(width_mm, abs=0.1)
        assert float(page.mediabox.height) / POINTS_PER_MM == pytest.approx(height_mm, abs=0.1)


def test_a_paper_size_that_is_not_there_is_refused() -> None:
    with pytest.raises(PaperError, match="Take A4 or Letter"):
        print_competency_record(small_record(), io.BytesIO(), "A3")  # type: ignore[arg-type]


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("record", RECORDS.values(), ids=RECORDS)
def test_every_page_has_its_head_code_caution_and_number(record: Any, size: str) -> None:
    made = record()
    reader = printed(made, size)
    for number, page in enumerate(reader.pages, start=1):
        text = " ".join(page.extract_text().split())
        assert text.startswith(f"{made.centre} Competency record: {STUDENT}")
        assert RECORD_NOTE in text
        assert f"page {number} of {len(reader.pages)}" in text
        assert f"event 1204 · hash {made.head.hash[:16]}" in text


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("record", RECORDS.values(), ids=RECORDS)
def test_nothing_stands_in_the_margins(record: Any, size: Any, tmp_path: Path) -> None:
    """Seen on rendered pages, so drawings count too: 18 mm all round, half a millimetre for the edges of letters."""
    file = tmp_path / "record.pdf"
    print_competency_record(record(), file, size)
    for picture in pictures(file, tmp_path, 100):
        rows, columns = np.nonzero(picture < 250)
        margin = 17.5 / 25.4 * 100
        height, width = picture.shape
        assert rows.min() >= margin
        assert columns.min() >= margin
        assert rows.max() <= height - margin
        assert columns.max() <= width - margin


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_skill_and_a_phase_heading_stay_with_what_follows(size: Any) -> None:
    """Each skill's title is on the page of its last line, each phase's title on the page of its first skill."""
    record = large_record()
    whole = [" ".join(page.extract_text().split()) for page in large(size).pages]
    pages = [page.partition("outcomes, oldest first")[2] for page in whole]
    for phase in record.phases:
        for line in phase.skills:
            assert sum(line.title in page and line.sentence in page for page in pages) == 1
        assert any(f"{phase.title} {phase.skills[0].title}" in page for page in pages)


def test_a_long_table_repeats_its_head() -> None:
    pages = [page.extract_text() for page in large().pages]
    with_skills = [page for page in pages if "Rule: " in page]
    assert len(with_skills) > 3
    assert all("outcomes, oldest first" in page for page in with_skills)
    assert "outcomes, oldest first" not in pages[-1]


@pytest.mark.parametrize("dots_per_inch", [200, 300])
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_signed_code_reads_back_from_the_printed_page(tmp_path: Path, size: Any, dots_per_inch: int) -> None:
    """Decoded by OpenCV, a decoder of its own, from a page rendered by Poppler (QR codes: ISO/IEC 18004)."""
    file, record = tmp_path / "record.pdf", small_record()
    print_competency_record(record, file, size, KEY)
    text, _, _ = cv2.QRCodeDetectorAruco().detectAndDecode(pictures(file, tmp_path, dots_per_inch)[-1])
    code = read_paper_code(text)
    head = (code.chain.replace("-", ""), code.seq, code.head)
    assert head == (hex_digits("chain")[:32], 1204, hex_digits("head"))
    assert (code.paper, code.day) == ("Competency record", record.as_of)
    assert code.is_signed_by(KEY.public)


def test_the_code_stands_there_in_letters_too_in_groups_to_be_typed() -> None:
    file = io.BytesIO()
    print_competency_record(small_record(), file, "A4", KEY)
    lines = pypdf.PdfReader(file).pages[-1].extract_text().splitlines()
    first = next(at for at, line in enumerate(lines) if re.fullmatch(r"([0-9A-Z]{5} ){9}[0-9A-Z]{5}", line))
    typed = "\n".join(takewhile(lambda line: re.fullmatch(r"([0-9A-Z]{5} )*[0-9A-Z]{1,5}", line), lines[first:]))
    assert read_paper_code(typed).is_signed_by(KEY.public)


def test_a_paper_without_a_key_says_that_it_is_not_signed() -> None:
    assert "Not signed: the centre had no key here" in words(printed(small_record()))


def test_a_paper_carries_its_data_made_from_the_object_that_is_printed() -> None:
    file, record = io.BytesIO(), small_record()
    print_competency_record(record, file, "A4", KEY)
    ((name, contents),) = pypdf.PdfReader(file).attachments.items()
    document = read_document(contents[0])
    assert name == "paper.json"
    assert document.says == plain_of(record)
    assert document.says["phases"][1]["skills"][0]["title"] == record.phases[1].skills[0].title
    assert document.says_hash == read_paper_code(document.code).says
    assert document.is_signed_by(KEY.public)
    assert document.pages.sha256 == hashlib.sha256(file.getvalue()[: document.pages.bytes]).hexdigest()


def test_the_data_are_marked_as_what_the_pages_were_made_from() -> None:
    """ISO 32000-2, 14.13: an associated file of the whole document, with the relationship Source."""
    reader = printed(small_record())
    (file,) = (one.get_object() for one in reader.trailer["/Root"]["/AF"])
    assert file["/AFRelationship"] == "/Source"
    assert file["/EF"]["/F"].get_object()["/Subtype"] == "/application/json"


def test_the_pages_are_the_same_to_the_last_byte_with_the_data_in_the_file() -> None:
    """Poppler's own tools read the whole file, and pypdf the part before the data."""
    file = io.BytesIO()
    pages = print_competency_record(small_record(), file)
    document = read_document(pypdf.PdfReader(file).attachments["paper.json"][0])
    before = pypdf.PdfReader(io.BytesIO(file.getvalue()[: document.pages.bytes]))
    assert [page.extract_text() for page in before.pages] == [p.extract_text() for p in pypdf.PdfReader(file).pages]
    assert len(before.pages) == pages
    assert before.attachments == {}


def test_fonts_are_embedded_and_pictures_are_lines() -> None:
    for page in large().pages:
        fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
        assert fonts
        assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in fonts)
        assert not page.images


def test_metadata_names_the_paper_and_nobody() -> None:
    reader = printed(small_record())
    told = {key: str(value) for key, value in reader.metadata.items()}
    assert told["/Title"] == "Competency record"
    assert told["/Author"] == "Loopledger"
    assert reader.trailer["/Root"]["/Lang"] == "en"
    for private in (STUDENT, "KW-S-014", "1991", "Kelpwater", "Tamsin"):
        assert not any(private in value for value in told.values())
    assert reader.xmp_metadata is None


def test_no_time_of_printing_is_in_the_file() -> None:
    """ReportLab writes the same fixed day, in 2000, into every file without a time."""
    information = printed(small_record()).metadata
    assert information.creation_date.year == 2000
    assert information.modification_date.year == 2000


def test_shapes_come_without_the_printing_library() -> None:
    """Pages draw the same shapes and need not load ReportLab for it."""
    code = "import sys, course.paper.shapes; sys.exit('reportlab' in sys.modules)"
    subprocess.run([sys.executable, "-c", code], cwd=Path(__file__).parent.parent, check=True)


def test_bookmarks_lead_to_each_phase() -> None:
    reader = large()
    top = [entry for entry in reader.outline if not isinstance(entry, list)]
    entries = {entry.title: reader.get_destination_page_number(entry) for entry in top}
    phases = [phase.title for phase in large_record().phases]
    hours = "Hours: short by 25 min (on the loop)"
    asked = "Asked beside hours: short in 2 of 4"
    lists = ["Adjustments", "Consent and papers seen", "Cautions"]
    before = ["Summary", "Still open in 9 of 11 phases", hours, asked, *lists, "Skill map"]
    after = ["Signatures", "Where this record comes from", "Steps, attempt by attempt"]
    assert list(entries) == [*before, *phases, *after]
    (under,) = (entry for entry in reader.outline if isinstance(entry, list))
    tried = [line.title for phase in large_record().phases for line in phase.skills if line.tries]
    assert [entry.title for entry in under] == tried
    for phase in large_record().phases:
        assert phase.skills[0].title in " ".join(reader.pages[entries[phase.title]].extract_text().split())


def test_a_file_that_cannot_be_written_is_refused_and_the_old_one_kept(tmp_path: Path) -> None:
    with pytest.raises(PaperError, match="Nothing was printed"):
        print_competency_record(small_record(), tmp_path / "nowhere" / "record.pdf")
    folder = tmp_path / "record.pdf"
    folder.mkdir()
    (folder / "kept").write_text("kept")
    with pytest.raises(PaperError, match="Nothing was printed"):
        print_competency_record(small_record(), folder)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["record.pdf"]
    assert (folder / "kept").read_text() == "kept"


def test_a_failed_print_leaves_an_older_paper_as_it_was(tmp_path: Path) -> None:
    file = tmp_path / "record.pdf"
    print_competency_record(small_record(), file)
    before = file.read_bytes()
    with pytest.raises(PaperError):
        print_competency_record(small_record(student="สมชาย"), file)
    assert file.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["record.pdf"]


def test_a_signature_on_an_older_record_says_so() -> None:
    lines = small_record().phases[1].skills
    assert "Signed on an older record: what it rests on has changed since." in words(printed(small_record()))
    fresh = replace(lines[0], decision=replace(lines[0].decision, stale=False))
    record = small_record(phases=(PhaseLines("One", (fresh,)),))
    assert "older record" not in words(printed(record))


def test_a_stricter_decision_prints_its_reason_once() -> None:
    text = words(printed(small_record()))
    assert text.count("I want to see it once more without.") == 1
    assert "Bruno Ashkenar holds it back." in text


def test_an_empty_record_still_prints() -> None:
    """A student with no skills, hours, adjustments or cautions yet."""
    text = words(
        printed(
            small_record(phases=(), hours=(), adjustments=(), cautions=(), unit=None, birth_year=None, hours_note="")
        )
    )
    assert "Signatures" in text
    assert "born" not in text


def shapes_of(kind: Any, shape: Any) -> dict[str, Shape]:
    """Each entry's shape."""
    return {str(entry): shape(entry) for entry in kind}


@pytest.mark.parametrize(
    "shapes",
    [
        shapes_of(Outcome, outcome_shape),
        shapes_of(StandingState, standing_shape),
        shapes_of(Mark, mark_shape),
    ],
    ids=["outcomes", "standings", "marks"],
)
def test_shapes_differ_by_form_alone(shapes: dict[str, Shape]) -> None:
    """WCAG 2.2, success criterion 1.4.1: colour is never the only sign. Colours are left out of the comparison."""
    forms = {
        tuple((part.points, part.filled, part.closed, part.stroke) for part in shape.parts) for shape in shapes.values()
    }
    assert len(forms) == len(shapes)


@pytest.mark.parametrize(
    "shape", [*map(outcome_shape, Outcome), *map(standing_shape, StandingState), *map(mark_shape, Mark)]
)
def test_shapes_stay_in_their_square(shape: Shape) -> None:
    assert all(0 <= x <= 1 and 0 <= y <= 1 for part in shape.parts for x, y in part.points)


def test_only_critical_is_warm() -> None:
    """One warm colour, for critical alone; it comes with a bold bar at the left."""
    drawn = [*map(outcome_shape, Outcome), *map(standing_shape, StandingState), *map(mark_shape, Mark)]
    warm = [shape for shape in drawn if any(part.tone == "warm" for part in shape.parts)]
    assert warm == [outcome_shape(Outcome.CRITICAL)]
    for shape in (*warm, mark_shape(Mark.ERROR, "a", critical=True), mark_shape(Mark.LEFT_OUT, critical=True)):
        bar = shape.parts[0]
        assert bar.filled
        assert bar.tone == "warm"
        assert min(x for x, _ in bar.points) == 0


def test_an_error_carries_its_letter() -> None:
    assert mark_shape(Mark.ERROR, "b").letter == "b"


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return sum(weight * value for weight, value in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize("colour", [TONES["ink"], TONES["warm"], "#" + QUIET.hexval()[2:]])
def test_what_is_read_stands_out_seven_to_one(colour: str) -> None:
    """WCAG 2.2, success criterion 1.4.6."""
    assert 1.05 / (luminance(colour) + 0.05) >= 7


@pytest.mark.parametrize("colour", TONES.values())
def test_nothing_is_green(colour: str) -> None:
    hue, saturation, _ = colorsys.rgb_to_hsv(*(int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)))
    assert saturation < 0.1 or hue < 0.12


@pytest.mark.parametrize(
    ("counts", "share"),
    [
        ((0, 5, 0, 3), 0),
        ((3, 3, 1, 2), 0.5),
        ((1, 4, 1, 1), 0.25),
        ((5, 3, 4, 2), 1),
        ((0, 0, 0, 0), 1),
        ((2, 4, 0, 0), 0.5),
    ],
)
def test_how_far_is_the_lesser_of_attempts_and_days(counts: tuple[int, int, int, int], share: float) -> None:
    """Common practice has no rule for this; the lesser share never shows more than is there."""
    assert how_far(*counts) == share


def test_a_square_that_is_not_met_is_never_full() -> None:
    top = max(y for _, y in standing_shape(StandingState.NOT_YET, 1.0).parts[0].points)
    assert top < max(y for _, y in standing_shape(StandingState.MET).parts[0].points)


# --- what was changed after the fact ---------------------------------------------------------------------------------


def on_paper(c: Centre, student: str) -> str:
    """The words of a student's printed record."""
    return words(printed(competency_record(c.ledger, c.view(), student, LAST_DAY)))


def amend(c: Centre, attempt: str, line: MarkGiven, why: str) -> None:
    """Give a step of the lead's sheet another mark."""
    amending.amend_marks(c.ledger, c.lead, attempt, c.attempt(attempt).sheets[0].id, line, why, seen_at(25))


def opened(c: Centre, attempt: str) -> str:
    """The event that an attempt began with."""
    return next(event.id for event in c.ledger.events(attempt))


def test_where_nothing_was_amended_nothing_of_it_is_printed(small_centre: Centre) -> None:
    """A critical error that stands, a mark in words and a stopped attempt are no amendments."""
    c = small_centre
    c.enter("pool-22", critical_mark())
    c.hold()
    assert "amend" not in on_paper(c, c.amaru)


def test_a_corrected_mark_is_told_with_its_reason(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22", critical_mark())
    amend(c, entered, MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.DONE), "I read the <b>wrong</b> column & line.")
    text = on_paper(c, c.amaru)
    (error,) = (e for e in c.skill().step(CRITICAL_ERROR[0]).errors if e.id == CRITICAL_ERROR[1])
    before = "amended attempt 1 of 22 Oct 2026: step 3 amended from error"
    assert f"{before} ({error.label}, critical) to done, or no occasion, by Tamsin Okoro-Vale on " in text
    assert "I read the <b>wrong</b> column & line." in text
    assert f"1 amendment after the fact, told at the skill: {c.skill().title}." in text
    assert "amend" not in on_paper(c, c.zoe)


def test_a_withdrawn_mark_and_a_withdrawn_attempt_are_told(small_centre: Centre) -> None:
    """An attempt that never took place counts nowhere; that it was there and was taken away is on the paper."""
    c = small_centre
    one, two = c.enter("pool-22", critical_mark()), c.enter("pool-23")
    marks = next(event.id for event in c.ledger.events(one) if event.kind == "marks_given/1")
    amending.withdraw(c.ledger, c.lead, marks, "Marks of the other slate.")
    amending.withdraw(c.ledger, c.second, opened(c, two), "Entered twice.")
    text = on_paper(c, c.amaru)
    assert "amended attempt 1 of 22 Oct 2026: withdrawn: the mark of step 1 (done, or no occasion)" in text
    assert "Marks of the other slate." in text
    assert "amended attempt 2 of 23 Oct 2026: withdrawn: the whole attempt, by Bruno Ashkenar on " in text
    assert "Entered twice." in text
    on_screen = skill_detail(c.ledger, c.view(), c.amaru, POOL_SKILL, LAST_DAY).not_counted
    assert len(on_screen) == 1
    assert on_screen[0].startswith("Attempt 2: Withdrawn: the whole attempt, by Bruno Ashkenar on ")


def test_a_moved_attempt_is_on_both_papers_without_the_other_name(small_centre: Centre) -> None:
    """Nor does a reason give a name away, in whatever letters it was written."""
    c = small_centre
    entered = c.enter("pool-22", critical_mark())
    amending.move_attempt(c.ledger, c.lead, entered, c.zoe, "It was zoe, not Amaru; TENDELLE stood beside Lien Ito.")
    gone, come = on_paper(c, c.amaru), on_paper(c, c.zoe)
    assert "amended attempt 1 of 22 Oct 2026: moved to another student, by Tamsin Okoro-Vale on " in gone
    assert "amended attempt 1 of 22 Oct 2026: moved here from another student, by Tamsin Okoro-Vale on " in come
    assert "It was [another student], not Amaru; TENDELLE stood beside Lien Ito." in gone
    assert "It was zoe, not [another student]; [another student] stood beside Lien Ito." in come
    assert not any(name in gone for name in ("Zoë", "zoe", "Brien", ODD_NAME))
    assert not any(name in come for name in ("Amaru", "Tendelle", "TENDELLE"))
    assert "critical 22 Oct 2026" in come
    assert "critical 22 Oct 2026" not in gone


def test_an_attempt_moved_there_and_back_is_told_to_both(small_centre: Centre) -> None:
    """Once by a second move, once by taking the move back; whoever had it in between is told no more than that."""
    c = small_centre
    for attempt in (one := c.enter("pool-22"), two := c.enter("pool-23", critical_mark())):
        amending.move_attempt(c.ledger, c.lead, attempt, c.zoe, "first look")
    amend(c, one, critical_mark(), "seen on film")
    amending.move_attempt(c.ledger, c.lead, one, c.amaru, "second look")
    back = next(event.id for event in c.ledger.events(two) if event.kind == "corrected/1")
    amending.withdraw(c.ledger, c.second, back, "it was right")
    seen = c.view()
    home, between = (changes_by_skill(c.ledger, seen, s, LAST_DAY)[POOL_SKILL] for s in (c.amaru, c.zoe))

    def told(lines: tuple[str, ...]) -> list[str]:
        return [line.split(", by ")[0] for line in lines]

    assert told(home)[:1] == ["Attempt 1 of 22 Oct 2026: moved to another student"]
    assert told(home)[1].startswith("Attempt 1 of 22 Oct 2026: step 3 amended from done, or no occasion to error (")
    assert told(home)[2:] == [
        "Attempt 1 of 22 Oct 2026: moved here from another student",
        "Attempt 2 of 23 Oct 2026: moved to another student",
        "Attempt 2 of 23 Oct 2026: moved here from another student",
    ]
    assert told(between) == [
        "Attempt 1 of 22 Oct 2026: moved here from another student",
        "Attempt 1 of 22 Oct 2026: moved to another student",
        "Attempt 2 of 23 Oct 2026: moved here from another student",
        "Attempt 2 of 23 Oct 2026: moved to another student",
    ]
    assert home[4].endswith(": it was right")


def test_an_amendment_of_a_later_training_day_is_not_on_an_earlier_record(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-23")
    amending.withdraw(c.ledger, c.lead, opened(c, entered), "Entered twice.")
    seen = c.view()
    assert list(changes_by_skill(c.ledger, seen, c.amaru, LAST_DAY)) == [POOL_SKILL]
    assert changes_by_skill(c.ledger, seen, c.amaru, LAST_DAY.replace(day=22)) == {}


def test_a_joint_line_and_joined_attempts_are_told(small_centre: Centre) -> None:
    """Both change afterwards what an attempt is worth."""
    c = small_centre
    one, two = c.enter("pool-22", critical_mark()), c.enter("pool-22", by=c.second)
    settling.join_attempts(c.ledger, c.lead, [one, two], "one try, two tablets")
    line = MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.DONE)
    settling.agree_joint_line(c.ledger, c.lead, one, line, [c.lead, c.second], "seen from the front", seen_at(22, 18))
    text = on_paper(c, c.amaru)
    assert "amended attempt 1 of 22 Oct 2026: joined: attempts 1 and 2 were one try, by Tamsin Okoro-Vale on " in text
    assert "step 3 agreed as done, or no occasion by Tamsin Okoro-Vale and Bruno Ashkenar, by " in text


def test_a_field_is_told_from_what_to_what(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22")
    amending.correct(c.ledger, c.lead, opened(c, entered), "Other pool.", change={"session": c.sessions["pool-23"]})
    amending.correct(c.ledger, c.lead, opened(c, entered), "It was.", change={"session": c.sessions["pool-22"]})
    first, second = changes_by_skill(c.ledger, c.view(), c.amaru, LAST_DAY)[POOL_SKILL]
    assert "corrected: session from Pool Of The 22 to Pool Of The 23, by " in first
    assert "corrected: session from Pool Of The 23 to Pool Of The 22, by " in second


def test_an_amendment_stands_when_its_reason_is_erased(small_centre: Centre) -> None:
    c = small_centre
    entered = c.enter("pool-22", critical_mark())
    amend(c, entered, MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.DONE), "wrong column")
    c.ledger.forget(c.amaru)
    assert ": the reason is erased." in on_paper(c, c.amaru)


def test_however_many_amendments_there_are_all_stand(small_centre: Centre) -> None:
    """More than one page holds, read back in order."""
    many = tuple(f"Attempt 1 of 22 Oct 2026: number {number} {'of many words ' * 12}end" for number in range(90))
    line = replace(small_record().phases[0].skills[0], amended=many)
    reader = printed(small_record(phases=(PhaseLines("One", (line,)),)))
    text = words(reader)
    places = [text.index(f"amended attempt 1 of 22 Oct 2026: number {number} of") for number in range(90)]
    assert places == sorted(places)
    assert "90 amendments after the fact, told at the skill: Build the unit by the list." in text


# --- wording and length ----------------------------------------------------------------------------------------------


def test_more_than_what_is_asked_is_never_a_part_of_it(small_centre: Centre) -> None:
    """Six in a row of five asked for is no share."""
    c = small_centre
    c.hold()
    c.enter("open-25")
    text = on_paper(c, c.amaru)
    assert "6, 5 asked" in text
    assert "6 of 5" not in text
    crowded = skill("One", StandingState.MET, "Met.", "c" * 14, streak=14, in_a_row=12, days=11, distinct_days=10)
    text = words(printed(small_record(phases=(PhaseLines("P", (crowded,)),))))
    assert all(told in text for told in ("14, 12 asked", "11, 10 asked", "14, 8 meant", "420, 417 asked"))


def test_the_first_sentence_tells_what_an_instructor_held_back(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    (ready,) = to_sign(c.view(), c.amaru, LAST_DAY)
    signing.sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.STRICTER,
        as_of=LAST_DAY, rests_on=ready.rests_on, reason="Once more with the other hand.",
    )  # fmt: skip
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    assert record.summary.startswith("1 of 50 required skills held, 0 signed, 1 held back by an instructor. Not held: ")
    assert f"Held back: {c.skill().title}." in record.summary
    assert "Still open in 10 of 10 phases; 1 skill held back" in words(printed(record))


def test_a_phase_that_is_met_does_not_hide_what_was_held_back() -> None:
    line = replace(small_record().phases[0].skills[0], decision=replace(held_back("Once more."), held_back=True))
    text = words(printed(small_record(phases=(PhaseLines("One", (line,)),))))
    assert "Every phase is met; 1 skill held back" in text


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_fifty_skills_that_are_mostly_met_take_ten_pages_and_their_steps_six_more(size: Any) -> None:
    """An overview, the map, the skills at their full length, and the lines to sign; then the steps."""
    reader = large(size)
    (steps,) = (e for e in reader.outline if not isinstance(e, list) and e.title == "Steps, attempt by attempt")
    assert reader.get_destination_page_number(steps) <= 9
    assert len(reader.pages) <= 16


def test_what_is_short_and_was_let_be_says_where_that_stands() -> None:
    def told(**changes: object) -> str:
        out = io.BytesIO()
        print_competency_record(small_record(**changes), out)
        return words(pypdf.PdfReader(out))

    sentence = "What two instructors let be stands under Exceptions."
    assert sentence in told(exceptions=("Exception: minutes on the loop.",))
    assert sentence not in told()
