"""The pages before and between sessions: today, letters, settings."""
