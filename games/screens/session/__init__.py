"""The pages of a session, from the signal's check to the wrap-up."""
