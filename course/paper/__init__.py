"""Papers as PDF: one typeface, one frame, shapes as vectors; the same data gives the same bytes."""
