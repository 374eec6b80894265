"""What a form calls the fields of an event, so that a complaint names what its reader sees.

A field that no form shows has no words here: whoever meets it reads the name that a program would.
"""

from __future__ import annotations

from collections.abc import Mapping

_OF_ALL = {
    "name": "Name",
    "roles": "Role",
    "birth_date": "Birth date",
    "contact": "Contact",
    "note": "Note",
    "why": "Reason",
    "reason": "Reason",
    "day": "Day",
    "first_day": "First day",
    "last_day": "Last day",
    "zone": "Time zone",
    "setting": "Setting",
    "place": "Place",
    "start": "Begins",
    "end": "Ends",
    "unit_type": "Unit type",
    "value": "Value",
    "revision": "Revision",
    "from_day": "From day",
    "emergency": "Emergency contact",
    "plan": "Site plan",
    "bag": "Bag",
    "paper": "Name and revision of the paper",
    "guardian": "Who agreed",
    "form": "Form of the exam",
    "items": "Items missed",
    "how": "How it is done instead",
    "waiver": "Written waiver",
    "elsewhere": "The other centre",
    "notes": "What went wrong",
}
_OF_ONE = {
    "CourseMade": {"title": "Name of the course"},
    "SessionPlanned": {"title": "Name of the session"},
    "GroupMade": {"name": "Name of the group"},
    "CentreMade": {"name": "Name of the centre"},
    "RetentionSet": {
        "student_days": "Days for students and candidates",
        "staff_days": "Days for the staff",
        "incident_days": "Days for whoever was in an incident",
    },
    "PersonErased": {"despite": "Why in spite of that"},
    "SignOffCountersigned": {"initials": "Initials of the student"},
    "TransferAgreed": {"given_to": "Which centre gets it"},
    "ArrivedFromElsewhere": {"sure": "How you know that it is the same person"},
    "AccountMade": {"sign_in": "Sign-in name"},
    "UnitAdded": {"label": "Label on the unit", "serial": "Serial number"},
}


def field_words(model: str) -> Mapping[str, str]:
    """Return the words for the fields of an event, by the name of its model."""
    return _OF_ALL | _OF_ONE.get(model, {})
