"""Workers, servers, brokers and databases that are killed, frozen and restarted in mid-run."""
