"""What pages share: frame, panels, tables, the address, and the one place that reads the record."""
