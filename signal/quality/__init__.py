"""Whether a signal is fit to be believed, and what to do when it is not."""
