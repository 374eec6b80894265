"""What attempts are worth: marks to outcome, step order, and from attempts to a standing.

In:  facts (sheets, attempts), a skill as its rubric states it, a day to look back from.
Out: frozen judgements and standings, each with the reasons that a person can read.

Pure: no clock, no files, no screen. A standing is always derived, never stored as truth.
"""
