"""Faults of every kind, brought about on purpose: what was acknowledged stays, nothing is doubled, losses are told.

    python -m tests.faults                 every fault, a few tries each: what the tests run
    python -m tests.faults --full          every fault as often as a release asks; half an hour and more
    python -m tests.faults kills power --full --seed 7

Each module brings about one kind of fault, against the program as it is, and returns a `Tally`.
"""
