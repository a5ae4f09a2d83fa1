"""What was done: the durable record at home, and reading it back."""
