"""The planning engine: plain data in, plain data out; no Django, no global random state."""
