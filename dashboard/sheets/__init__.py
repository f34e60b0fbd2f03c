"""Results in, printable sheets out."""
