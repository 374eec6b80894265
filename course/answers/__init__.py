"""One function per question, one frozen answer each: the only way to read for pages, papers and commands."""
