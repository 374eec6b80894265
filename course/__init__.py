"""Loopledger: who holds which skill, who saw it, and what is missing."""

__version__ = "0.6.3"
