"""What was ordered, what was done, what comes next."""
