"""The rules of a session: repetitions, sets, questions, one judge. No clock, no screen, no file."""
