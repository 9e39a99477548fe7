"""Tests of the least change."""
