"""What the customer gets: a page to look at, and a sheet to sign, both of the same facts."""
