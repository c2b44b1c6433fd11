"""The merge of a collector in numbers."""
