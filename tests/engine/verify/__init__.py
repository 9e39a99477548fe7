"""The judge of plans, judged: a good plan, mutations of it, and any plan at all."""
