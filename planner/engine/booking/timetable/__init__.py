"""Level 2, timetable: each site-day to the minute."""
