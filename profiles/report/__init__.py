"""The page that a therapist and a patient read."""
