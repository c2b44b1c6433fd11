"""The merge of a collector in numbers: its design, areas and measures."""
