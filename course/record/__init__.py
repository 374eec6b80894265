"""What happened, event by event, and what is true now because of it: pure, no files, no database."""
