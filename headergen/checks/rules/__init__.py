"""The rules, one kind of thing a file: pure generators of findings."""
