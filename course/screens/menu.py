"""The pages of the menu: the four of a pool day in view on every screen, the others behind one tap."""

from __future__ import annotations

from course.access import Sight

DAILY = {"today": "Today", "mark": "Mark", "slate": "Slate", "course": "Course"}
"""File in pages/ to the word in the menu."""
OTHERS = {
    "ready": "Ready",
    "findings": "Findings",
    "gates": "Gates",
    "hours": "Hours",
    "units": "Units",
    "figures": "Figures",
    "day": "Day's end",
    "class": "Class",
    "student": "Student's own",
    "observers": "Observers",
    "standards": "Standards",
    "papers": "Papers",
    "check": "Check a paper",
    "why": "Show why",
    "people": "People",
    "privacy": "Privacy",
    "laptops": "Laptops",
    "health": "Health",
}
ADDRESSES = {"course": "standings"}
"""Where the address is another word than the file's: Streamlit would take /course for our own routes."""
FIRST = "today"


def addresses() -> tuple[str, ...]:
    """Return the address of every page."""
    return tuple(f"/{ADDRESSES.get(name, name)}" for name in DAILY | OTHERS)


def sight_of(name: str) -> Sight:
    """Return the right to see a page, by its file in pages/."""
    return Sight(f"page {name}")
