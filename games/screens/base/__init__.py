"""What every screen is made of: pages, scenery, figures, controls."""
