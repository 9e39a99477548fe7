"""Tests of planning by regions."""
