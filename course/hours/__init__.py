"""Spans to minutes, per person and kind: pure."""
