"""Invented networks: a seeded generator, the demo, and a report of what a network holds."""
