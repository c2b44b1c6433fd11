"""How numbers, places and directions are said, in the units of the job."""
