"""Data, and what reads its sentences (`saying.py`): art, text catalogue, sensor descriptions,
prescription templates."""
