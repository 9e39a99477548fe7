"""The pages of planning runs: the list, asking for one, one run from its progress to a decision."""
