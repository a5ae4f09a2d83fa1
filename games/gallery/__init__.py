"""Every page in every state, as pictures."""
