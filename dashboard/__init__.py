"""Everything that is looked at: pages, figures and what they share; it knows the tracker, never the other way."""
