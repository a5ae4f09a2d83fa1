"""The home without a window: where its files lie, and how letters come and go."""
