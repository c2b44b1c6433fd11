"""Writers, one a file. None knows another."""
