"""Tests of the booking run and of its parts."""
