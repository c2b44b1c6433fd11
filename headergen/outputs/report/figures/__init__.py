"""The drawings of the report page, as SVG with the page's colours.

Text in them is 16 units high, and a phone shows them at that size.
"""
