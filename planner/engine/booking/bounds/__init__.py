"""What a bound is worth: the gap of a plan told as capacity, and rows that bind more tightly."""
