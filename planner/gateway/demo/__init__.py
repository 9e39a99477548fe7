"""The demo's record: an invented network with nine months behind it, made from a seed."""
