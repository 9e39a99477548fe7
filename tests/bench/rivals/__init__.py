"""Rivals: plain ways to plan a whole network, on the same data and under the same judge."""
