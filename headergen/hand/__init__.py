"""The effect of a hand's errors: where a run ends, where it is best closed, and what is left of its gaps."""
