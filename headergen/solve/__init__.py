"""The values that headergen finds: closing a primary on its bore, at its length."""
