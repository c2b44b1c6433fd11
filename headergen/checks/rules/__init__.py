"""The rules, one subject in each file: pure generators of findings."""
