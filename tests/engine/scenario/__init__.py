"""Tests of the invented networks."""
