"""Loopledger: who holds which skill, who saw it, and what is missing."""
