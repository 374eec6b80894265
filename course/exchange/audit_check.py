"""The check of what was handed over: an audit file or a bundle, from the file alone.

Members against the manifest, events against their chains, checkpoints against the heads they name, and every table
against what the events tell when they are laid out and derived again. Names and texts cannot be compared without keys.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any

from course.answers.audit import LIMITS
from course.answers.audit_tables import COLUMNS
from course.answers.days import day_words
from course.errors import CourseError, RefusedError
from course.exchange import audit_manifest, bundle
from course.exchange.archive import REPACKED, Archive, OddFileError
from course.exchange.audit_file import PAPER, PROGRAM, Step, laid_out, write_tables
from course.exchange.audit_manifest import AuditManifest, audit_bound
from course.exchange.bundle import EVENTS, Fault, Manifest, faults_of, read_manifest
from course.exchange.table_files import compare, member_of
from course.record.chain import Event
from course.record.lines import LONGEST_LINE, event_in
from course.record.paper_code import is_typed_code, read_paper_code
from course.words import plural

_MOST_TOLD = 20
_SHORTEST_HEAD = 16
_HEX = re.compile(r"[0-9a-f]{16,64}")


@dataclass
class CheckReport:
    """What a check found. Findings are what is wrong; each is a sentence."""

    file: str
    kind: str
    events: int = 0
    findings: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    chains: list[dict[str, Any]] = field(default_factory=list)
    shown: list[str] = field(default_factory=list)
    """What was compared and fits."""

    @property
    def fine(self) -> bool:
        """Whether nothing is wrong."""
        return not self.findings

    def text(self) -> str:
        """The report in lines: what is wrong, or what fits; then what that does not show."""
        heads = [
            f"Chain {chain['chain']} ends at event {head['seq']} with {head['hash']}."
            for chain in self.chains
            for head in chain["heads"]
        ]
        if self.findings:
            first = f"{self.file}: NOT as it was sealed. {plural(len(self.findings), 'finding')}:"
            return "\n".join([first, *self.findings, *self.notices])
        what = f"{self.file}: {self.kind} of {plural(self.events, 'event')}, and everything in it fits."
        return "\n".join([what, *self.shown, *self.notices, *heads, "", "What this does not show", *LIMITS])

    def plain(self) -> dict[str, Any]:
        """The report as plain data."""
        return asdict(self) | {"fine": self.fine, "limits": list(LIMITS)}


def check_file(file: Path, heads: Sequence[str] = (), *, step: Step | None = None) -> CheckReport:
    """Check an audit file or a bundle.

    Args:
        file: the file.
        heads: hashes held elsewhere, 16 hex digits or more, or whole codes of papers; each must be an event's here.
        step: told (done, of, what).

    Raises:
        NotFoundError: there is no such file.
        RefusedError: it is neither, or holds what no such file has; or a head cannot be read.
    """
    wanted = {head: _digits(head) for head in heads}
    with Archive(file, audit_bound) as archive:
        try:
            is_audit = PAPER in archive.names
            model, form = (AuditManifest, audit_manifest.FORMAT) if is_audit else (Manifest, bundle.FORMAT)
            manifest = read_manifest(archive, model, form)
        except OddFileError as error:
            raise RefusedError(f"{file.name} cannot be checked: {error}.") from error
        kind = "an audit file" if is_audit else "a ledger bundle"
        report = CheckReport(file.name, kind, manifest.events, chains=[c.model_dump() for c in manifest.chains])
        report.notices += [REPACKED] if archive.repacked else []
        report.notices += [
            f"Chain {part.chain} begins after event {part.first - 1}, which is not in it."
            for part in manifest.chains
            if part.first > 1
        ]
        watch = _Heads(set(wanted.values()))
        _tell(report, faults_of(archive, manifest, watch=watch.see, progress=_part(step, "events")))
        _compare_heads(report, wanted, watch)
        if report.fine:
            _derive(report, archive, manifest, step)
    return report


def _tell(report: CheckReport, faults: Iterable[Fault]) -> None:
    found = list(islice(faults, _MOST_TOLD + 1))
    report.findings += [str(fault) for fault in found[:_MOST_TOLD]]
    if len(found) > _MOST_TOLD:
        report.findings.append(f"There is more; the first {_MOST_TOLD} places are listed.")
    if not found:
        report.shown.append(
            "Every member has the size and SHA-256 that the manifest lists; every chain fits its hashes."
        )


# --- heads held elsewhere --------------------------------------------------------------------------------------------


class _Heads:
    """Looks for hashes among the events as they go by."""

    def __init__(self, wanted: set[str]) -> None:
        self.found: dict[str, Event] = {}
        self._wanted = wanted

    def see(self, one: Event) -> None:
        """Look at one event."""
        for digits in self._wanted:
            if one.hash.startswith(digits):
                self.found[digits] = one


def _digits(head: str) -> str:
    """The hex digits of a head: of a paper's code the hash in it; of one of an earlier version its last part."""
    digits = "".join(head.split()).lower().rsplit(":", 1)[-1]
    if not _HEX.fullmatch(digits):
        if is_typed_code(head):
            return read_paper_code(head).head
        raise RefusedError(
            f"{head!r} is no hash to compare with: write its first {_SHORTEST_HEAD} hex digits or more, as they stand "
            "at the foot of a paper, or the whole code."
        )
    return digits


def _compare_heads(report: CheckReport, wanted: dict[str, str], watch: _Heads) -> None:
    for head, digits in wanted.items():
        one = watch.found.get(digits)
        if one is None:
            report.findings.append(
                f"No event in the file has the hash {head}: it is not the ledger that this came from."
            )
        else:
            report.shown.append(f"{head} is event {one.seq} of chain {one.chain}: nothing before it was changed since.")
    if not wanted:
        report.notices.append("No hash from elsewhere was given to compare with (--head); see the last paragraph.")


# --- derived again ---------------------------------------------------------------------------------------------------


def _derive(report: CheckReport, archive: Archive, manifest: Manifest, step: Step | None) -> None:
    """Lay the events out, derive every table anew and compare; also what old checkpoints saw."""

    def events() -> Any:
        return (event_in(line) for _, line in archive.lines(EVENTS, LONGEST_LINE))

    with tempfile.TemporaryDirectory(prefix="loopledger-check-") as place:
        folder = Path(place)
        try:
            with laid_out(folder / "laid", manifest.centre, events, _part(step, "facts")) as laid:
                report.findings += laid.told[0]
                report.notices += laid.told[1]
                if isinstance(manifest, AuditManifest):
                    made = write_tables(
                        folder, laid, manifest.courses, events, named=False, progress=_part(step, "tables")
                    )
                    _tables(report, archive, manifest, made)
        except CourseError as error:
            report.findings.append(f"What the events tell cannot be derived: {error.sentence}")


def _tables(report: CheckReport, archive: Archive, manifest: AuditManifest, made: dict[str, Path]) -> None:
    before = len(report.findings)
    for table in COLUMNS:
        if member_of(table) not in archive.names:
            report.findings.append(f"{member_of(table)} is not in it.")
            continue
        try:
            report.findings += [str(fault) for fault in compare(archive, table, made[table])]
        except OddFileError as error:
            report.findings.append(f"{error}.")
    if len(report.findings) > before and manifest.program != PROGRAM:
        report.notices.append(
            f"It was sealed by {manifest.program}, and this is {PROGRAM}: tables may differ by that. Check it there."
        )
    if len(report.findings) == before:
        days = "; ".join(sorted({day_words(date.fromisoformat(one.as_of)) for one in manifest.courses}))
        told = f", standings as of {days}" if days else ""
        report.shown.append(f"Derived again from the events, {plural(len(COLUMNS), 'table')} are the same{told}.")
    if manifest.named:
        report.notices.append("Names, texts and the paper cannot be derived again without the centre's keys.")
    else:
        report.notices.append(f"{PAPER} is the one that was sealed; it is not laid out anew here.")


def _part(step: Step | None, what: str) -> Callable[[int, int], None] | None:
    return (lambda done, of: step(done, of, what)) if step else None
