"""Lists of candidates: a file as a table, its columns, its cells, and what is wrong with them.

Plain data in and out: nothing here reads or writes the record.
"""
