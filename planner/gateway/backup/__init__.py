"""Backups of the record: made while it is in use, checked, and put back whole or not at all.

A backup is a folder with two files: the database's own copy, and ``manifest.json``, which says what
it is. Names and contact data are in it as they are in the database, sealed; the keys are not.
"""

from planner.gateway.backup.make import make
from planner.gateway.backup.manifest import Manifest, checked
from planner.gateway.backup.put_back import PutBack, put_back

__all__ = ["Manifest", "PutBack", "checked", "make", "put_back"]
