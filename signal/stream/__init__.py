"""Samples to activation, in a stream: each stage takes blocks and keeps its own state."""
