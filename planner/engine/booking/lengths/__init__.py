"""How long sessions are planned: the run's table of lengths, and what sessions take in practice.

The list schedule keeps both promises by itself: it opens a row up where lateness has added up. So
lengths below `planned_minutes` keep them too, and hold more people, since the first sessions of a
row have little lateness to fear.
"""
