"""Tests of how long sessions take and who waits."""
