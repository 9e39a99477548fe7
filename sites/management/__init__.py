"""Commands of the record."""
