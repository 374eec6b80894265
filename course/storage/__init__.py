"""Where everything is kept: the ledger, the private data, the rubric files and copies of them."""
