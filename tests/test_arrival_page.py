"""What arrives from another centre on Ready, and by command, without a browser."""

from __future__ import annotations

from pathlib import Path

import pytest
from arrival_examples import POOL_ITEM, Elsewhere, other_centre, shown
from centre_builder import Centre
from click.testing import CliRunner
from streamlit.testing.v1 import AppTest
from test_gate_pages import choose, press, tell
from test_pages import page, words
from test_sign_off_page import chosen

from course.actions import arrivals
from course.actions.pad import take
from course.answers.hours import student_bars
from course.commands import main
from course.screens import serve
from course.standards.standards import Standards


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Elsewhere:
    """Built once: files are only read."""
    return other_centre(tmp_path_factory.mktemp("elsewhere"), standards)


def ready(c: Centre) -> AppTest:
    serve.start(c.ledger, take)
    return choose(page("ready.py"), "Student", c.amaru)


def upload(app: AppTest, label: str, name: str, content: bytes, kind: str) -> AppTest:
    """Give the page a file."""
    next(one for one in app.file_uploader if one.label.startswith(label)).upload(name, content, kind).run()
    assert not app.exception
    return app


def test_a_file_is_read_noted_accepted_and_taken_back_on_ready(small_centre: Centre, elsewhere: Elsewhere) -> None:
    c, before = small_centre, small_centre.count()
    app = upload(ready(c), "The other centre's public keys", "keys.json", elsewhere.key_file, "application/json")
    app = upload(app, "A transfer file", "transfer.pdf", elsewhere.signed, "application/pdf")
    assert "Signed with a key of that centre that is pinned here" in words(app)
    assert any("Compare their fingerprint with that centre by voice" in one.value for one in app.caption)
    assert c.count() == before, "reading changes nothing"
    tell(app, "The lead", c.lead)
    app = press(app, "Note that it arrived")
    assert "It is noted; nothing of it counts yet." in words(app)
    (arrival,) = c.view().arrivals
    app = choose(app, "What is accepted?", POOL_ITEM)
    tell(app, "Reason", "The same pool.")
    app = press(chosen(app), "Accept it")
    assert "It is accepted, and told as from elsewhere." in words(app)
    bars = {bar.kind: bar.words for bar in student_bars(c.view(), c.amaru, c.view().last_day).bars}
    assert bars["pool"] == "170 of 354 min, of them 170 from elsewhere: short by 184 min"
    tell(app, "Reason", "It was another pool.")
    app = press(chosen(app), "Take back what was accepted")
    assert "It counts no more." in words(app)
    assert c.view().arrivals[0].accepted == ()
    tell(app, "Reason", "It is of somebody else.")
    app = press(app, "Take the whole file back")
    assert len(c.view().arrivals) == 1, "a PIN that was used once stands in no form any more"
    tell(app, "Reason", "It is of somebody else.")
    app = press(chosen(app), "Take the whole file back")
    assert "Nothing of this file counts any more." in words(app)
    assert c.view().arrivals == ()
    app = upload(ready(c), "The other centre's public keys", "keys.json", elsewhere.key_file, "application/json")
    app = upload(app, "A transfer file", "transfer.pdf", elsewhere.signed, "application/pdf")
    tell(app, "The lead", c.lead)
    tell(app, "Why it holds after all", "It is of him.")
    app = press(chosen(app), "It holds after all")
    assert "It holds again." in words(app)
    assert len(c.view().arrivals) == 1
    assert arrival.signature == "pinned"


def test_a_file_that_is_none_is_told_on_ready_and_offers_nothing(small_centre: Centre, elsewhere: Elsewhere) -> None:
    app = upload(ready(small_centre), "A transfer file", "transfer.pdf", elsewhere.altered, "application/pdf")
    assert "The data in the file are not those of its code" in words(app)
    assert "Note that it arrived" not in [button.label for button in app.button]


def run(*asked: str, typed: str = "") -> tuple[int, str]:
    done = CliRunner().invoke(main, asked, input=typed)
    return done.exit_code, done.output


def test_the_commands_print_a_transfer_file_rehearse_note_and_accept(
    small_centre: Centre, elsewhere: Elsewhere, tmp_path: Path
) -> None:
    c = small_centre
    folder = str(c.ledger.folder)
    file, keys = tmp_path / "in.pdf", tmp_path / "keys.json"
    file.write_bytes(elsewhere.signed)
    keys.write_bytes(elsewhere.key_file)
    c.ledger.close()
    code, told = run("arrival", folder, "Amaru", str(file), "--key", str(keys))
    assert (code, told.splitlines()[-1]) == (0, "Nothing was changed.")
    code, told = run("arrival", folder, "Amaru", str(file))
    assert code == 1
    assert "nobody here has pinned" in told
    assert run("arrival", folder, "Amaru", str(file), "--key", str(keys), "--note")[1].endswith("noted as arrived.\n")
    accepting = ("arrival", folder, "Amaru", "--accept", "hours:pool=60", "--reason", "The same pool.")
    code, told = run(*accepting, typed="471108\n471108\n")
    assert code == 0
    assert "471108" not in told
    assert "hours:pool · From elsewhere, Kelpwater, as of 25 Oct 2026: 60 of 170 minutes pool." in told
    code, told = run(*accepting, typed="258036\n")
    assert (code, "That is not this person's PIN for signing. Nothing was signed." in told) == (3, True)
    taking_back = ("arrival", folder, "Amaru", "--take-back")
    code, told = run(*taking_back, "hours:pool", "--reason", "Another pool.", typed="258036\n")
    assert (code, "That is not this person's PIN for signing. Nothing was signed." in told) == (3, True)
    for item, words_ in (("hours:pool", "60 of 170 minutes pool."), ("file", "the whole file was taken back by ")):
        code, told = run(*taking_back, item, "--reason", "Another pool.", typed="471108\n")
        assert (code, words_ in told, ", confirmed by PIN: Another pool." in told) == (0, True, True)
    again = ("arrival", folder, "Amaru", str(file), "--key", str(keys), "--again", "--reason", "His after all.")
    code, told = run(*again, typed="471108\n")
    assert (code, told.splitlines()[-1]) == (1, "It holds after all.")
    accepting = (*accepting[:4], "hours:pool=many", "--reason", "x", "--stdin")
    code, told = run(*accepting, typed="471108\n")
    assert (code, "is no whole number" in told) == (2, True)
    letting_go = ("account", "pin", folder, "Tamsin", "--take-away")
    code, told = run(*letting_go)
    assert (code, "A reason is needed" in told) == (3, True)
    assert run(*letting_go, "--why", "It was forgotten.") == (0, "The PIN is taken away.\n")
    code, told = run(*letting_go, "--why", "It was forgotten.")
    assert (code, "has no PIN for signing" in told) == (4, True)
    out = tmp_path / "out.pdf"
    code, told = run("transfer", folder, "Amaru", "--out", str(out))
    assert (code, out.exists()) == (3, False)
    assert "agrees to be given on is not noted" in told
    code, told = run("transfer", folder, "Amaru", "--out", str(out), "--to", "Saltmarsh")
    assert code == 0
    assert "transfer file of Amaru Tendelle, 1 page" in told or "transfer file of Amaru Tendelle, 2 pages" in told
    assert shown(out.read_bytes()).code.paper == "Transfer file"


def test_an_arrival_that_nobody_here_pinned_a_key_for_says_so_for_ever(
    small_centre: Centre, elsewhere: Elsewhere
) -> None:
    c = small_centre
    arrivals.note_arrival(c.ledger, c.lead, c.course, c.amaru, shown(elsewhere.signed), None)
    assert "Signed with a key that nobody here has pinned" in words(ready(c))
