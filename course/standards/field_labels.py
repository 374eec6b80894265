"""The words that a form shows for each field of a rubric: complaints, conflicts and differences say the same."""

from __future__ import annotations

from course.standards.plain import Path

LABELS: dict[str, str] = {
    "title": "Title",
    "purpose": "What it is for",
    "caution": "Caution",
    "currency_days": "Good for so many days",
    "setting": "Where it may be tried",
    "before": "Skills to show first",
    "needs.all": "Only for units that have all of",
    "needs.any": "Only for units that have one of",
    "needs.none": "Not for units that have",
    "sources": "Where it comes from",
    "sources.ref": "Reference",
    "rule": "The rule",
    "in_a_row": "In a row",
    "distinct_days": "Over so many days",
    "settings": "At least one in each of",
    "prompts_allowed": "Prompts allowed in each",
    "minor_errors_allowed": "Minor errors allowed in each",
    "assessors": "Different observers",
    "same_unit_type": "Each unit type by itself",
    "reteach": "Re-teach attempts after a critical error",
    "budget": "Meant for about so many attempts",
    "steps": "Steps",
    "do": "What to do",
    "why": "Why",
    "left_out_critical": "Leaving it out is critical",
    "left_out_why": "Else, where something here can be critical: why leaving it out is not",
    "after": "Has to come after",
    "after_critical": "Critical when it comes before",
    "errors.label": "What went wrong",
    "consequence": "What comes of it",
    "critical": "Critical: one miss can injure on this dive",
    "at_least": "At least",
    "at_most": "At most",
    "from_": "Watched from",
    "limit.error": "A value outside stands for",
    "prompt_error": "A prompt stands for",
    "notice": "Notice shown with it",
    "in_force_from": "In force from",
    "for_whom": "For",
    "unit_bound": "Each student dives a unit",
    "minimum_age_years": "Least age in years",
    "max_depth_m": "Greatest depth in metres",
    "hours": "Minutes",
    "counts": "Numbers",
    "ratios": "Students to an instructor",
    "students_per_instructor": "Students to one instructor",
    "extra_with_assistant": "More with an assistant",
    "most_students": "Most students",
    "low_visibility_students_per_instructor": "Students to one in low visibility (0: no own number)",
    "at_least_minutes": "at least",
    "each_at_least_minutes": "Minutes each, at least",
    "prerequisites": "Proofs",
    "prerequisites.label": "What has to be seen",
    "proof": "Seen as",
    "valid_days": "Valid for so many days (0: no end)",
    "blocks": "Without it no",
    "required_skills": "Required skills",
    "optional_skills": "Optional skills",
    "sign_by": "Signed by",
    "finish_within_days": "To be finished within so many days",
    "instructor_currency_days": "Instructors taught within so many days",
    "features": "What it has",
    "service_days": "Days between services",
    "cell_days": "Days an oxygen cell is good",
    "revision": "Name of the new revision",
    "order": "Their order",
}

HOUR_WORDS = {
    "theory": "theory",
    "dry": "dry",
    "pool": "in the pool",
    "open_water": "in open water",
    "in_water_on_loop": "on the loop in the water",
}
COUNT_WORDS = {
    "pool_sessions": "pool sessions",
    "open_water_dives": "open water dives",
    "training_days": "training days",
}
PROOF_WORDS = {
    "certificate": "certificate",
    "logbook": "the diver's logbook",
    "signed_form": "signed form",
    "date_of_birth": "date of birth",
    "medical_form": "medical form",
    "instructor_check": "an instructor's check",
}
STAGE_WORDS = {
    "enrolment": "enrolment",
    "dry": "dry session",
    "pool": "pool session",
    "open_water": "open water",
    "signoff": "sign-off",
}
SIGNER_WORDS = {
    "lead_instructor": "lead instructor",
    "second_instructor": "second instructor",
    "student": "student",
    "training_manager": "training manager",
}
WHOM_WORDS = {"student": "students", "candidate": "candidates"}
SOURCE_WORDS = {"published": "published", "common_practice": "common practice", "from_memory": "from memory"}


def label_of(path: Path) -> str:
    """Return the words of the field that a path ends in, else its own name with blanks."""
    names = [str(part) for part in path if isinstance(part, str)]
    if not names:
        return ""
    *before, last = names
    known = (f"{name}.{last}" for name in reversed(before) if f"{name}.{last}" in LABELS)
    return LABELS.get(next(known, last), last.strip("_").replace("_", " "))
