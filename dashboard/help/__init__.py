"""The help: a guide, a page a method, the commands, the keys of a job; written as text, read under Help."""
