"""Findings on a page, as a command, in Show why and in the audit file: one answer, told in the same words."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from opened_page import app_at
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest
from test_pages import page, words

from course import sample
from course.actions.findings import answer_finding
from course.actions.pad import take
from course.answers.course_view import view
from course.answers.findings import FindingsAnswer, course_findings
from course.answers.origin_finding import finding_origin
from course.commands import main
from course.exchange.audit_file import seal
from course.paper.origin_sheet import print_origin
from course.record.finding_facts import FindingAnswer
from course.screens import finding_parts, serve
from course.storage.ledger import Ledger, open_ledger
from course.storage.lookup import all_of

REASON = "The unit was on the bench all afternoon; the booking was never dived."


@pytest.fixture
def demo(loaded: sample.Loaded, monkeypatch: pytest.MonkeyPatch) -> Iterator[Ledger]:
    """The demo centre on the screens; each test answers what it answers, and the next one reads it."""
    monkeypatch.setenv("LOOPLEDGER_STATE", str(loaded.folder.parent / "state"))
    with open_ledger(loaded.folder, write=True) as ledger:
        serve.start(ledger, take)
        yield ledger


def told(ledger: Ledger, loaded: sample.Loaded) -> FindingsAnswer:
    seen = view(ledger, loaded.course)
    return course_findings(ledger, seen, seen.last_day)


def findings_page() -> AppTest:
    return page("findings.py")


def test_the_page_tells_every_finding_worst_first_with_what_it_rests_on(demo: Ledger, loaded: sample.Loaded) -> None:
    app, answer = findings_page(), told(demo, loaded)
    shown = words(app).replace("\\", "")
    assert answer.sentence in shown
    heads = [box.label.replace("\\", "") for box in app.expander]
    assert len(heads) == len(answer.findings) == 8
    for head, one in zip(heads, answer.findings, strict=True):
        assert one.sentence in head
        assert one.severity.value in head.casefold()
        for line in one.evidence[:12]:
            assert line.words in shown


def test_an_answer_is_asked_for_its_reason_and_then_stands_beside_the_finding(
    demo: Ledger, loaded: sample.Loaded
) -> None:
    first = told(demo, loaded).findings[0]
    app = findings_page()
    button = next(one for one in app.button if one.label == "Answer it" and f"answer-{first.code}" in one.form_id)
    button.click().run()
    assert "A reason is needed" in words(app)
    assert not all_of(demo, FindingAnswer)
    app.text_area(key=f"reason-{first.code}-0").set_value(REASON)
    next(one for one in app.button if one.label == "Answer it" and f"answer-{first.code}" in one.form_id).click().run()
    assert not app.exception
    answer = told(demo, loaded)
    assert len(answer.findings) == 8
    (answered,) = [one for one in answer.findings if one.answered]
    assert answered.key == first.key
    assert answered.answers[0].reason == REASON
    assert "1 answered" in answer.sentence
    assert REASON in words(findings_page()).replace("\\", "")


def test_what_is_for_the_lead_alone_is_shown_to_the_lead_alone(demo: Ledger, loaded: sample.Loaded) -> None:
    seen = view(demo, loaded.course)
    second = next(p.id for p in seen.people.circle.values() if p.name == "Bruno Ashkenar")
    app = findings_page()
    assert any("marks fewer errors" in box.label for box in app.expander)
    next(group for group in app.button_group if group.label == "Who is looking?").set_value(second).run()
    assert not app.exception
    assert "marks fewer errors" not in words(app) + " ".join(box.label for box in app.expander)


def test_today_counts_findings_and_leads_to_them(demo: Ledger, loaded: sample.Loaded) -> None:
    app = page("today.py")
    assert told(demo, loaded).sentence in words(app).replace("\\", "")
    assert any(button.label == "Open Findings" for button in app.button)


def test_the_command_tells_the_same_and_ends_with_1_while_one_is_not_answered(
    demo: Ledger, loaded: sample.Loaded
) -> None:
    result = CliRunner().invoke(main, ["findings", str(loaded.folder)])
    assert result.exit_code == 1
    answer = told(demo, loaded)
    assert all(one.sentence in result.output and one.code in result.output for one in answer.findings)
    plain = json.loads(CliRunner().invoke(main, ["findings", str(loaded.folder), "--json"]).output)
    assert [one["sentence"] for one in plain["findings"]] == [one.sentence for one in answer.findings]


def test_a_finding_is_followed_back_to_its_entries_by_page_command_and_paper(
    demo: Ledger, loaded: sample.Loaded, tmp_path: Path
) -> None:
    answer = told(demo, loaded)
    short_hold = next(one for one in answer.findings if one.rule == "value_against_tick")
    command = CliRunner().invoke(main, ["why", str(loaded.folder), "--finding", short_hold.code])
    assert command.exit_code == 0
    for piece in (short_hold.sentence, "41 s", "Bruno Ashkenar", "recorded", "form "):
        assert piece in command.output
    app = app_at("why")
    app.query_params["finding"] = short_hold.key
    app.run()
    assert short_hold.sentence in words(app).replace("\\", "")
    seen = view(demo, loaded.course)
    out = BytesIO()
    print_origin(finding_origin(demo, seen, short_hold.code, seen.last_day), out)
    printed = " ".join(" ".join(one.extract_text() for one in PdfReader(out).pages).split())
    assert "41 s of 60 s" in printed
    assert short_hold.rests_on[:16] in printed.replace(" ", "")


def test_a_finding_that_is_not_there_is_told(demo: Ledger, loaded: sample.Loaded) -> None:
    result = CliRunner().invoke(main, ["why", str(loaded.folder), "--finding", "0badc0de"])
    assert result.exit_code != 0
    assert "No finding is called" in result.output + result.stderr


def test_the_audit_file_holds_findings_followers_and_answers(
    demo: Ledger, loaded: sample.Loaded, tmp_path: Path
) -> None:
    seen = view(demo, loaded.course)
    ratio = next(one for one in told(demo, loaded).findings if one.rule == "ratio_break")
    answer_finding(
        demo, seen.centre.lead, course=loaded.course, finding=ratio.key, rests_on=ratio.rests_on,
        reason="Everybody stood at the wall.", as_of=seen.last_day,
    )  # fmt: skip
    named, nameless = tmp_path / "named.zip", tmp_path / "nameless.zip"
    seal(demo, named, given_to="The auditor")
    seal(demo, nameless)
    printed, closed = (text_of(one) for one in (named, nameless))
    for one in told(demo, loaded).findings:
        assert one.sentence in printed
        assert all(other.sentence in printed for other in one.follow)
    assert "Everybody stood at the wall." in printed
    assert "gates and consents are not looked at" in closed
    assert "Everybody stood at the wall." not in closed
    assert "the reason is left out here" in closed
    with zipfile.ZipFile(nameless) as archive:
        table = archive.read("tables/finding_answers.csv").decode()
    assert ratio.key in table


def test_the_table_to_take_away_has_a_line_for_each_finding_and_each_that_follows(
    demo: Ledger, loaded: sample.Loaded
) -> None:
    answer = told(demo, loaded)
    lines = finding_parts.as_csv(answer).strip().splitlines()
    assert len(lines) == 1 + sum(1 + len(one.follow) for one in answer.findings)


def text_of(file: Path) -> str:
    with zipfile.ZipFile(file) as archive:
        pages = PdfReader(BytesIO(archive.read("audit.pdf"))).pages
        return " ".join(" ".join(one.extract_text() for one in pages).split())
