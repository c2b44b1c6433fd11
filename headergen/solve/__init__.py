"""Values that headergen finds: closing a primary on its bore and at its length."""
