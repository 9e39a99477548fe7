"""The decisions: engine, pages, interface and commands."""
