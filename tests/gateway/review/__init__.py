"""Tests of laying plans out."""
