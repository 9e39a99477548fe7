"""A run's plan laid out for whoever decides on it.

``lines`` says what would happen to each request, ``figures`` what the plan comes to beside the plan
in force and an earlier run, ``load`` how full each site's day would be, ``book`` reads a run's
result once for many looks. What the record would no longer take says `record.look`.
"""
