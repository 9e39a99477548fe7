"""The only door between the world (files, later the record) and the engine."""
