"""Tests of lists of candidates: tables, columns, cells."""
