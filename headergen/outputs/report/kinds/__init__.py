"""The kinds of part of which a report says more than name, mass and files; one file a kind.

Each has its record, a function that makes the records from the header as it was asked for, and one that says them as a
section on paper. A new kind: a file here, a field in records/report.py, a line in `paper.sections_of`.
"""
