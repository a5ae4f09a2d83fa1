"""The order: what a therapist may prescribe, how it is written, checked, drafted and compared."""
