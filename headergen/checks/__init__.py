"""What is measured of a header, once, and the rules that judge it: one rule a file."""
