"""Data only: art, text catalogue, sensor descriptions, prescription templates."""
