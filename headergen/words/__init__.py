"""The wording of numbers, places and directions, in the units of the job."""
