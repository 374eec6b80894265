"""What a skill is, what a course requires, which units there are: models and their own rules, no files."""
