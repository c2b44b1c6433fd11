"""The measurements of a header, made once, and the rules that judge them: one rule in each file."""
