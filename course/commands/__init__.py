"""The command line. Every command is thin: it asks an answer or does an action, and tells the result.

Exit codes: 0 fine; 1 what was looked for is there (damage, faulty rubric files, something missing); 2 the command
line is wrong; 3 refused; 4 not found; 5 folder, disk or database; 6 a paper that cannot be printed; 7 the program
itself went wrong.
"""

from course.commands import (
    accounts,
    arrivals,
    audit,
    centre,
    check,
    figures,
    findings,
    health,
    hours,
    keys,
    mending,
    merging,
    papers,
    privacy,
    questions,
)
from course.commands.group import main

__all__ = [
    "accounts", "arrivals", "audit", "centre", "check", "figures", "findings", "health", "hours", "keys", "main",
    "mending", "merging", "papers", "privacy", "questions",
]  # fmt: skip
