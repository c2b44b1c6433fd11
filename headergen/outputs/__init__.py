"""Writers, one in each file. No writer uses another."""
