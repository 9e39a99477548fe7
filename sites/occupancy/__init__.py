"""Double booking is impossible: the database keeps who is taken when, and refuses an overlap.

Each row of an appointment, care window, break, downtime, absence, shift or scanner placement is
turned into rows of ``record_occupancy`` by triggers of the database, so that a row written by raw
SQL is covered like any other. Times there are whole minutes since 1970-01-01 UTC, half-open.
"""
