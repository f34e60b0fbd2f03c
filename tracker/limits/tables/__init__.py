"""The tables themselves, as data files; each names its source."""
