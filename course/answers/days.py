"""Days in words, the same on every screen and paper."""

from __future__ import annotations

from datetime import date, datetime

from course.moments import day_words, weekday_words

__all__ = ["as_of_words", "at_words", "day_words", "days_words", "weekday_words"]


def days_words(first: date, last: date) -> str:
    """A stretch of days: "20 to 25 Oct 2026"."""
    if first == last:
        return day_words(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day} to {day_words(last)}"
    if first.year == last.year:
        return f"{day_words(first).rsplit(' ', 1)[0]} to {day_words(last)}"
    return f"{day_words(first)} to {day_words(last)}"


def as_of_words(day: date, last_day: date, today: date) -> str:
    """The day that an answer is as of, with what that day is."""
    if day == last_day:
        return f"{day_words(day)}, the last day of the course"
    return f"{day_words(day)}, today" if day == today else day_words(day)


def at_words(local: datetime, beside: date | None = None) -> str:
    """A minute on the wall clock: "Thu 22 Oct 13:30"; beside a day of another year with its own."""
    day = day_words(local.date())
    told = day if beside and beside.year != local.year else day.rsplit(" ", 1)[0]
    return f"{weekday_words(local.date())} {told} {local:%H:%M}"
