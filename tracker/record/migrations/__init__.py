"""The steps by which the record came to its present form; forward only."""
