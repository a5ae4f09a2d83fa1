"""The pages on which sensor and pads are chosen and put on."""
