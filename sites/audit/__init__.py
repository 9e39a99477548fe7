"""Who did what to which row when: triggers of the database write it, and nobody takes it back.

Every write to a table that the audit watches leaves a row in ``record_auditentry``, also a write of
many rows at once and raw SQL. Of what may tell about a person only the column's name is kept.
"""
