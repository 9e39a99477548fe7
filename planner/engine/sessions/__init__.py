"""How long does it take? Lengths, planned minutes and the rule of the day."""
