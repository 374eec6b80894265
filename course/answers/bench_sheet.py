"""The bench sheet: the standards in force as whoever stands at the bench needs them, step by step."""

from __future__ import annotations

from course.access import Sight
from course.answers.course_view import head_of
from course.answers.filed_paper import BENCH_SHEET, FiledLine, FiledPaper, FiledSection, plain_lines
from course.answers.standards_answer import InForce, standards_in_force
from course.asker import question
from course.assessment.sentences import rule_sentence
from course.errors import NotFoundError
from course.record.facts import Centre
from course.standards.rubric import Needs, Skill, Step
from course.standards.standards import Standards
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, needed
from course.words import EXAMPLE_NOTE, SETTING_WORDS, UNIT_WORDS, listed, plural

BENCH = "dry"
CAUTION = f"A training aid. It certifies nobody. The maker's manual of the unit rules at the bench. {EXAMPLE_NOTE}"


@question(Sight.FILED_FILE)
def bench_sheet(ledger: Ledger) -> FiledPaper:
    """Return the skills in force that may be tried dry, step by step, and the rules of all others.

    Raises:
        NotFoundError: nothing was adopted yet.
    """
    told = standards_in_force(ledger)
    if told is None:
        raise NotFoundError("No rubrics are in force yet. Adopt them on the Standards page. Nothing was printed.")
    standards, centre = adopted(ledger, told.adoption).standards, needed(ledger, Centre, ledger.centre_id, "centre")
    here = [skill for skill in standards.skills.values() if BENCH in skill.setting]
    others = [skill for skill in standards.skills.values() if BENCH not in skill.setting]
    return FiledPaper(
        kind=BENCH_SHEET,
        centre=centre.name,
        about=f"{plural(len(here), 'skill')} at the bench",
        sentence=told.sentence,
        facts=(
            ("A bar", "beside a step: something in it can be critical; one miss can injure on this dive."),
            ("Revisions", _revisions(told)),
        ),
        sections=(
            *(_skill(standards, skill) for skill in here),
            FiledSection("Skills that are not tried dry", tuple(_rule(skill) for skill in others), nothing="None."),
            FiledSection("Unit types", plain_lines(told.unit_types), nothing="None is entered."),
        ),
        caution=CAUTION,
        head=head_of(ledger),
        asked=(("centre", ledger.centre_id),),
    )


def _revisions(told: InForce) -> str:
    return "; ".join(f"{phase.title} {phase.revision}" for phase in told.phases if phase.skills)


def _skill(standards: Standards, skill: Skill) -> FiledSection:
    lines = tuple(_step(standards, step, number) for number, step in enumerate(skill.steps, 1))
    whom = "For candidates. " if skill.audience == "candidate" else ""
    only = _only(standards, skill.needs)
    note = f"{whom}{f'{only}. ' if only else ''}{rule_sentence(skill)} {skill.caution}"
    return FiledSection(skill.title, lines, note)


def _step(standards: Standards, step: Step, number: int) -> FiledLine:
    told = [step.do.rstrip(".")]
    if step.limit:
        bounds = (("at least", step.limit.at_least), ("at most", step.limit.at_most))
        unit = UNIT_WORDS.get(step.limit.unit, step.limit.unit)
        words = ", ".join(f"{word} {bound} {unit}".rstrip() for word, bound in bounds if bound is not None)
        told.append(words[:1].upper() + words[1:])
    critical = [error.label.rstrip(".") for error in step.errors if error.critical]
    critical += ["left out"] if step.if_left_out else []
    critical += ["out of its order"] if step.after_critical else []
    told += [f"Critical: {'; '.join(critical)}"] if critical else []
    told += [_only(standards, step.only_if)] if step.only_if else []
    return FiledLine(f"{'. '.join(told)}.", label=f"step {number}", critical=step.can_be_critical)


def _only(standards: Standards, needs: Needs) -> str:
    """For which units a skill or a step is; empty where it is for every one."""
    titles = {one: standards.features[one].title for one in needs.flags()}
    told = [
        listed([titles[one] for one in needs.all]),
        " or ".join(titles[one] for one in needs.any),
        " or ".join(f"without {titles[one]}" for one in needs.none),
    ]
    return f"Only on a unit: {'; '.join(filter(None, told))}" if any(told) else ""


def _rule(skill: Skill) -> FiledLine:
    where = listed([SETTING_WORDS[one] for one in skill.setting])
    return FiledLine(f"{where}. {rule_sentence(skill, brief=True)}", f"{skill.title}:")
