"""How long reading, planning and checking take, size by size: ``python -m tests.bench S M``."""
