"""Level 1, allocation: requests to site, day and part of day, by a linear program and its prices."""
