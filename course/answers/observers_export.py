"""What the lead sees of observers as tables to take away: every chance-corrected number with its n.

Where there is too little to say anything, counts stand alone.
"""

from __future__ import annotations

from course.answers.csv_text import Cell, csv_text
from course.answers.observers import ObserversAnswer, Pair, PracticeLine, SeverityLine


def pairs_csv(answer: ObserversAnswer) -> str:
    """Two sheets on one attempt as a table, with the chance-corrected numbers and every n."""
    columns = (
        "first", "second", "attempts", "steps both saw", "errors only first", "errors only second", "errors both",
        "sign test p", "same", "specific agreement on errors", "specific from", "specific to", "AC1", "alpha",
        "errors are rare: read the specific agreement", "attempts graded by both", "linear weighted kappa",
    )  # fmt: skip
    return csv_text(columns, [_pair_row(pair) for pair in answer.pairs])


def _pair_row(pair: Pair) -> tuple[Cell, ...]:
    shared, errors = pair.shared, pair.shared.errors
    low, high = pair.between or (None, None)
    if not pair.enough:
        counts = (errors.only_first, errors.only_second, errors.both)
        return (pair.first, pair.second, shared.attempts, len(shared.steps), *counts, *(None,) * 10)
    return (
        pair.first, pair.second, shared.attempts, len(shared.steps), errors.only_first, errors.only_second, errors.both,
        errors.p_value, shared.by_step.same, shared.specific, low, high, shared.by_step.ac1, shared.by_step.alpha,
        "yes" if shared.errors_are_rare else "", shared.grades, shared.kappa,
    )  # fmt: skip


def practice_csv(answer: ObserversAnswer) -> str:
    """Practice sheets against evaluating ones, step by step, as a table."""
    columns = ("who", "skill", "step", "can be critical", "compared", "hit", "missed", "not seen", "invented")
    return csv_text(columns, [_practice_row(one.name, line) for one in answer.practising for line in one.lines])


def _practice_row(who: str, line: PracticeLine) -> tuple[Cell, ...]:
    counts = (line.compared, line.hit, line.missed, line.unseen, line.invented)
    return (who, line.skill, line.step, "yes" if line.can_be_critical else "", *counts)


def severity_csv(answer: ObserversAnswer) -> str:
    """Each observer against the others on the same student and skill, as a table."""
    columns = (
        "observer", "sheets", "with an error", "comparisons", "students", "odds ratio (Mantel-Haenszel)",
        "standard error of its logarithm", "odds ratio drawn towards none", "chance that it matters",
        "mean attempt number", "mean attempt number of others", "linked group", "worth saying",
    )  # fmt: skip
    return csv_text(columns, [_severity_row(line) for line in answer.severities])


def _severity_row(line: SeverityLine) -> tuple[Cell, ...]:
    of = line.measured
    counts = (line.name, of.sheets, of.errors, of.strata, of.students)
    told = (of.ratio, of.log_error, of.drawn_ratio, of.likely) if of.enough else (None,) * 4
    said = "yes" if of.said else ""
    return (*counts, *told, of.mean_number, of.mean_number_others, of.group, said)
