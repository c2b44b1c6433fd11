"""The customer's page to look at and sheet to sign, both from the same facts."""
