"""What report.json says, as frozen records: each key once, with its unit, its kind and what it means.

report.json is a dump of `Report`, its schema is that of the class, and the report on paper and on the terminal read its
attributes. Values are as they were measured; report.json has them rounded to 1e-6 (rounding.py).
"""
