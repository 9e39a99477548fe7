"""Tests of the gateway between the record and the engine."""
