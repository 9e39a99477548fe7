"""The pages: requests, days, care, capacity, set-up; a fragment shares its page's context."""
