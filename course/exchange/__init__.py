"""What is handed over and read back: the ledger's events as a bundle, the audit file."""
