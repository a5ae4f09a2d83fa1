"""The folder between clinic and home, and the two doors at its ends."""
