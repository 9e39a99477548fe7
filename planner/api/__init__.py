"""The API for programs: one operation a class, by the same services as the pages."""
