"""The HTTP interface for gauges and measuring machines: readings in by token, jobs and verdicts out."""
