"""A course that asks for two skills, a count of days and nothing else, so that a test can meet all of it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from centre_builder import FIRST_DAY, LAST_DAY, POOL_SKILL, ZONE, Centre, note_papers, seen_at

from course.actions import courses as planning
from course.actions import exceptions, presence, signing
from course.actions import sign_off as signing_off
from course.actions.standards import adopt_revision
from course.answers.decisions import to_sign
from course.answers.sign_off import SignOffSheet, sign_off_sheet
from course.record.facts import Adoption
from course.words import Role

OTHER_SKILL = "mp-reentry"
DAYS = {"of": "training_days", "at_least": 1, "each_at_least_minutes": 0}
_KEYS = {
    "dry-21": "dry", "pool-22": "pool", "pool-23": "pool", "open-24": "open_water", "open-25": "open_water",
}  # fmt: skip


def course_that_asks(
    c: Centre, counts: Sequence[dict[str, Any]] = (), sign_by: Sequence[str] = ("lead_instructor", "student")
) -> Centre:
    """The small centre with a course on requirements of two skills and these counts."""
    fact = c.ledger.fact("adoption", c.adoption)
    assert isinstance(fact, Adoption)
    files = json.loads(json.dumps(fact.files))
    for content in files.values():
        for skill in content.get("skills", ()):
            if skill["id"] in (POOL_SKILL, OTHER_SKILL):
                skill.pop("before", None)
        for profile in content.get("profiles", ()):
            if (profile["id"], profile["revision"]) == ("ex-first-unit", "r1"):
                asked = {"required_skills": [POOL_SKILL, OTHER_SKILL], "hours": [], "counts": [*counts]}
                profile.update(asked, sign_by=[*sign_by])
    adoption = adopt_revision(c.ledger, c.lead, files, c.adoption)
    course = planning.make_course(
        c.ledger, c.lead, title="Two skills", zone=ZONE, adoption=adoption, profile="ex-first-unit", revision="r1",
        first_day=FIRST_DAY.isoformat(), last_day=LAST_DAY.isoformat(),
    )  # fmt: skip
    note_papers(c.ledger, c.lead, course, c.amaru, c.zoe)
    for who, role in ((c.second, Role.INSTRUCTOR), (c.amaru, Role.STUDENT), (c.zoe, Role.STUDENT)):
        planning.enrol(c.ledger, c.lead, course, who, role)
    for who in (c.amaru, c.zoe):
        planning.assign_unit(c.ledger, c.lead, course, who, c.unit_a, FIRST_DAY.isoformat())
    sessions = {
        key: planning.plan_session(
            c.ledger, c.lead, course=course, title=key, setting=setting, start=seen_at(int(key[-2:]), 13, 30),
            end=seen_at(int(key[-2:]), 16, 20),
        )
        for key, setting in _KEYS.items()
    }  # fmt: skip
    return replace(c, adoption=adoption, course=course, sessions=sessions)


def there_on(c: Centre, key: str = "pool-22") -> None:
    """Amaru was there."""
    day = int(key[-2:])
    presence.sign_in(c.ledger, c.lead, c.sessions[key], c.amaru, seen_at(day, 13, 30))
    presence.sign_out(c.ledger, c.lead, c.sessions[key], c.amaru, seen_at(day, 16, 20))


def hold_all(c: Centre, *skills: str, by: str = "") -> None:
    """Amaru holds these skills, both unless named, and nobody signed them yet."""
    for skill in skills or (POOL_SKILL, OTHER_SKILL):
        c.hold(skill=skill, by=by)


def sign_all(c: Centre, by: str = "", **more: Any) -> None:
    """Everything that is met is signed."""
    shown = {one.skill: one.rests_on for one in to_sign(c.view(), c.amaru, LAST_DAY)}
    signing.sign_all(c.ledger, by or c.lead, course=c.course, student=c.amaru, as_of=LAST_DAY, rests_on=shown, **more)


def sheet(c: Centre) -> SignOffSheet:
    """What a sign-off of Amaru would rest on."""
    return sign_off_sheet(c.ledger, c.view(), c.amaru, LAST_DAY)


def sign_off(c: Centre, by: str = "", **more: Any) -> str:
    """Sign Amaru off on the record as it is."""
    rests_on = more.pop("rests_on", "") or sheet(c).rests_on
    return signing_off.sign_off(
        c.ledger,
        by or c.lead,
        course=c.course,
        student=c.amaru,
        as_of=LAST_DAY,
        rests_on=rests_on,
        **{"confirmed_with": "pin", **more},
    )


def propose(c: Centre, rule: str, rests_on: str, by: str = "", reason: str = "Seen on an earlier course.") -> str:
    """An instructor would let something be."""
    return exceptions.propose(
        c.ledger, by or c.lead, course=c.course, student=c.amaru, rule=rule, as_of=LAST_DAY, rests_on=rests_on,
        reason=reason, confirmed_with="pin"
    )  # fmt: skip


def second(c: Centre, exception: str, rests_on: str, by: str = "", reason: str = "I saw the same.") -> None:
    """A second one agrees."""
    exceptions.second(
        c.ledger, by or c.second, exception, as_of=LAST_DAY, rests_on=rests_on, reason=reason, confirmed_with="pin"
    )
