"""The record: what exists and what happened. It knows nothing of the planner."""
