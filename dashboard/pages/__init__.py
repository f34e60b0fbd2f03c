"""One file a page: read the record once, call the tracker, lay out."""
