"""Level 1, allocation: requests to site, day and part of day, by a program and its prices."""
