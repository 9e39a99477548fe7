"""Benchmarks: ``python -m tests.bench`` sets plans beside rivals'; others measure single things."""
