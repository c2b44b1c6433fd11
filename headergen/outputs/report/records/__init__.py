"""The content of report.json as frozen records: each key once, with its unit, its kind and its meaning.

report.json is a dump of `Report`, and its schema is that of the class; the report on paper and on the terminal read its
attributes. Values are as measured; report.json rounds them to 1e-6 (rounding.py).
"""
