"""One function per thing a person does: it checks, makes the events and appends them in one go."""
