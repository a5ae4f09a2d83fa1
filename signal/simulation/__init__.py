"""Muscles and disturbances made by rule, for practice and for tests."""
