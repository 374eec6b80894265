"""Files from elsewhere: rubric files, bundles and audit files, codes of paper sheets; and what a command is asked."""

from __future__ import annotations

import re
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import orjson
from bundle_examples import lines_of, members_of, packed, with_lines
from centre_builder import LAST_DAY, Centre
from click.testing import CliRunner
from day_builder import Day
from hostile_desk import Drive, Said
from hostile_papers import filled
from strategies_rubrics import LEADING, RIGHT, write_files
from test_bundle import DAMAGES

from course.answers.slate_sheet import find_slate, slate_sheet
from course.commands.group import main
from course.errors import CourseError
from course.exchange.audit_check import check_file
from course.exchange.audit_file import seal
from course.exchange.bundle import EVENTS, MANIFEST, open_bundle, write_bundle
from course.record.chain import canonical, event_hash
from course.record.lines import event_in
from course.storage.rubric_files import read_folder

Members = list[tuple[str, bytes]]


# --- rubric files -------------------------------------------------------------------------------------------------

_BOMB = "\n".join(["a0: &a0 [1]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 11)])
YAML_FILES: dict[str, bytes] = {
    "ten lists of ten aliases, ten deep": _BOMB.encode(),
    "5000 brackets": b"a: " + b"[" * 5000,
    "5000 indents": b"".join(b" " * n + b"a:\n" for n in range(1000)),
    "more than 1 MB": b"# " + b"x" * 1_000_001,
    "a picture": b"\x89PNG\r\n\x1a\n" + bytes(64),
    "UTF-16": "schema: rubric/1\n".encode("utf-16"),
    "null bytes": bytes(64),
    "nothing": b"",
    "two documents": b"a: 1\n---\na: 2\n",
    "a tab": b"a:\n\tb: 1\n",
}


def yaml(made: Path, text: str) -> Said:
    """One file of a right folder is another one; the first problem that is told."""
    old, arrow, new = text.partition(" => ")
    content = YAML_FILES.get(text) or (LEADING.replace(old, new, 1) if arrow else text).encode("utf-8", "surrogatepass")
    assert not arrow or old in LEADING, old
    folder = made / "rubrics-hostile"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    write_files(folder, RIGHT)
    (folder / "20_leading.yaml").write_bytes(content if text != "nothing" else b"")
    try:
        read_folder(folder)
    except CourseError as error:
        return Said(refused=error.sentence.split("\n")[1])
    finally:
        shutil.rmtree(folder)
    return Said(kept=new)


YAML: dict[str, Drive] = {"a rubric file": Drive("yaml", lambda c: Path(c.ledger.folder).parent, yaml)}


# --- bundles and audit files --------------------------------------------------------------------------------------


def _edited(
    members: Members, number: int, change: Callable[[dict[str, Any]], object], *, anew: bool = False
) -> Members:
    lines = lines_of(members)
    plain = orjson.loads(lines[number - 1])
    change(plain)
    line = orjson.dumps(plain, option=orjson.OPT_SORT_KEYS)
    if anew:
        bare = event_in(line)
        line = orjson.dumps(plain | {"hash": event_hash(bare)}, option=orjson.OPT_SORT_KEYS)
    lines[number - 1] = line
    return with_lines(members, lines)


def _lines(members: Members, change: Callable[[list[bytes]], list[bytes]]) -> Members:
    return with_lines(members, change(lines_of(members)))


def _swelling(members: Members) -> Members:
    return [(name, b"a" * 30_000_000 if name == EVENTS else content) for name, content in members]


FORGED: dict[str, Callable[[Members], Members]] = {
    "an altered body": lambda m: _edited(m, 3, lambda e: e["body"].update(kind="x")),
    "an altered body, hashed anew": lambda m: _edited(m, 3, lambda e: e["body"].update(kind="x"), anew=True),
    "another person as its actor": lambda m: _edited(m, 4, lambda e: e.update(actor="0" * 8)),
    "a broken prev": lambda m: _edited(m, 3, lambda e: e.update(prev="f" * 64)),
    "a gap": lambda m: _lines(m, lambda found: [*found[:4], *found[5:]]),
    "a lost tail": lambda m: _lines(m, lambda found: found[:-1]),
    "two events swapped": lambda m: _lines(m, lambda found: [found[0], found[2], found[1], *found[3:]]),
    "an event twice": lambda m: _lines(m, lambda found: [found[0], *found]),
    "an event of another centre": lambda m: _edited(
        m, 2, lambda e: e.update(centre="0192d000-0000-7000-8000-0000000000fe"), anew=True
    ),
    "another centre in the manifest": lambda m: _manifest(m, centre="0192d000-0000-7000-8000-0000000000fe"),
    "a newer version": lambda m: _manifest(m, version=99),
    "another format": lambda m: _manifest(m, format="other"),
    "a fraction": lambda m: _lines(m, lambda f: [f[0].replace(b'"seq":1', b'"seq":1.5'), *f[1:]]),
    "a key twice": lambda m: _lines(m, lambda f: [f[0].replace(b'"seq":1', b'"seq":1,"seq":1'), *f[1:]]),
    "a huge number": lambda m: _lines(m, lambda f: [f[0].replace(b'"seq":1', b'"seq":' + b"9" * 400), *f[1:]]),
    "3000 deep": lambda m: _lines(m, lambda f: [b"[" * 3000 + b"]" * 3000, *f[1:]]),
    "half a line": lambda m: [(n, c[: len(c) // 2] if n == EVENTS else c) for n, c in m],
    "a member ../": lambda m: [*m, ("../events.jsonl", b"x")],
    "a member /etc/passwd": lambda m: [*m, ("/etc/passwd", b"x")],
    "a member C:": lambda m: [*m, ("C:\\x.json", b"x")],
    "a member nobody knows": lambda m: [*m, ("run.py", b"x")],
    "a member twice": lambda m: [*m, m[1]],
    "a member that swells": _swelling,
    "no manifest": lambda m: [one for one in m if one[0] != MANIFEST],
    "no events": lambda m: [one for one in m if one[0] != EVENTS],
}
ODD: dict[str, Callable[[Path], None]] = {}


def _manifest(members: Members, **changes: object) -> Members:
    plain = orjson.loads(dict(members)[MANIFEST]) | changes
    return list((dict(members) | {MANIFEST: canonical(plain)}).items())


def odd(name: str) -> Callable[[Callable[[Path], None]], Callable[[Path], None]]:
    """A file that is spoilt in its bytes."""

    def keep(spoil: Callable[[Path], None]) -> Callable[[Path], None]:
        ODD[name] = spoil
        return spoil

    return keep


@odd("encrypted")
def _encrypted(file: Path) -> None:
    _marked(file, flag_bits=1)


@odd("a link")
def _link(file: Path) -> None:
    _marked(file, external_attr=0o120777 << 16)


@odd("a lying size")
def _lying(file: Path) -> None:
    _marked(file, file_size=3, compress_size=3)


def _marked(file: Path, **changes: int) -> None:
    """The directory says something else of the second member than what is there."""
    members = members_of(file)
    made = zipfile.ZipFile(file, "w")
    for name, content in members:
        made.writestr(zipfile.ZipInfo(name), content)
    for name, value in changes.items():
        setattr(made.infolist()[1], name, value)
    made.infolist()[1].create_system = 3
    made.close()


@odd("cut off")
def _cut(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:-40])


@odd("no zip")
def _no_zip(file: Path) -> None:
    file.write_bytes(b"%PDF-1.7 <script>" * 50)


@odd("empty")
def _empty(file: Path) -> None:
    file.write_bytes(b"")


def _made(c: Centre, *, audit: bool) -> Path:
    """A good file of the small centre, beside its folder."""
    out = Path(c.ledger.folder) / ("audit.zip" if audit else "bundle.zip")
    out.unlink(missing_ok=True)
    if audit:
        seal(c.ledger, out, as_of=LAST_DAY)
    else:
        write_bundle(out, c.ledger.centre_id, c.ledger.chain_events())
    return out


def handed(*, audit: bool) -> Drive:
    """A file that was spoilt: a bundle is read strictly, an audit file is checked and each thing wrong is named."""

    def act(good: Path, text: str) -> Said:
        other = good.with_name("other.zip")
        if text in ODD:
            shutil.copy(good, other)
            ODD[text](other)
        else:
            damage = FORGED.get(text) or DAMAGES[text][0]
            method = zipfile.ZIP_DEFLATED if "swells" in text else zipfile.ZIP_STORED
            packed(damage(members_of(good)), other, method)
        try:
            if audit:
                report = check_file(other)
                return Said(refused=ids_out(report.findings[0] if report.findings else ""))
            open_bundle(other).__exit__(None, None, None)
        except CourseError as error:
            return Said(refused=ids_out(error.sentence))
        finally:
            other.unlink()
        return Said(kept="taken")

    return Drive(f"handed {audit}", lambda c: _made(filled(c), audit=audit), act)


def ids_out(sentence: str) -> str:
    """The sentence without what is another one in every centre."""
    sentence = re.sub(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f-]{22}", "ID", sentence)
    return re.sub(r"\b[0-9a-f]{64}\b", "HASH", sentence)


BUNDLES: dict[str, Drive] = {"a bundle": handed(audit=False), "an audit file": handed(audit=True)}


# --- codes of paper sheets ----------------------------------------------------------------------------------------


def with_sheet(c: Centre) -> tuple[Centre, Any]:
    """A sheet that was given out."""
    slate = Day(c).sheet()
    return c, slate_sheet(c.ledger, c.sessions["pool-22"], slate)


def code(made: tuple[Centre, Any], text: str) -> Said:
    """What is typed or read as a sheet's code; $code and $square stand for the good ones."""
    c, sheet = made
    good = sheet.slate.code
    wrong = good[:-1] + ("2" if good[-1] != "2" else "3")
    at = next(at for at in range(len(good) - 1) if good[at] != good[at + 1] and "-" not in good[at : at + 2])
    swapped = good[:at] + good[at + 1] + good[at] + good[at + 2 :]
    parts = sheet.square_code.split("|")
    for name, own in (
        ("$wrong", wrong), ("$swapped", swapped), ("$code", good), ("$square", sheet.square_code),
        ("$centre", parts[1]), ("$form", parts[3]),
    ):  # fmt: skip
        text = text.replace(name, own)
    try:
        found = find_slate(c.ledger, text)
    except CourseError as error:
        told = error.sentence.replace(good, "CODE").replace(wrong, "WRONG").replace(swapped, "SWAPPED")
        return Said(refused=told)
    return Said(kept="the sheet" if found[1] == sheet.slate.id else "another sheet")


CODES: dict[str, Drive] = {"a sheet's number": Drive("codes", with_sheet, code)}


# --- commands -----------------------------------------------------------------------------------------------------


def command(c: Centre, text: str) -> Said:
    """A command line with hostile words; what it says, its last line alone."""
    words = [part.replace("$folder", str(c.ledger.folder)) for part in text.split("|")]
    done = CliRunner().invoke(main, words)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code, done.output
    said = (done.stderr or done.output).strip().splitlines()[-1]
    return Said(refused=said.replace(str(c.ledger.folder), "FOLDER"))


COMMANDS: dict[str, Drive] = {"course": Drive("commands", filled, command)}
