"""The planning engine: plain data in, plain data out; no Django, no clock, no global random state."""
