"""Everything that writes the record: ``<entity>_<action>``, keyword-only, all or nothing."""
