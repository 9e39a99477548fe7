"""Tests of the offers out of the record."""
