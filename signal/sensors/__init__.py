"""Sensors described by a file: what they send, how to find them, how to stay in touch with them."""
