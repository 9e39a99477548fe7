"""The commands, one a file: parse, call the gateway or the engine, print."""
