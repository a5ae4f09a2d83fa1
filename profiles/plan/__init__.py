"""What comes next: today's dose, what may move by itself, what the past forbids, and the recent maximum."""
