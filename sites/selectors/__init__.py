"""Everything that reads the record: ``<entity>_<what>``, without side effects."""
