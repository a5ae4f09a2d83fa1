"""The desk without a window: the clinic's folder and what can be done with it."""
