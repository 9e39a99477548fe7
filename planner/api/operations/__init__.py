"""The operations, one class each, by what they are about."""
