"""The kinds of part for which a report has more than name, mass and files; one kind in each file.

Each has its record, a function that makes the records from the header, and one that writes them as a section on paper.
A new kind needs: a file here, a field in records/report.py, a line in `paper.sections_of`.
"""
