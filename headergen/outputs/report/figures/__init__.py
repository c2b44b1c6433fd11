"""The drawings of the report page, as SVG that takes its colours from the page; text in them is 16 units high, and they
are drawn at that size on a phone."""
