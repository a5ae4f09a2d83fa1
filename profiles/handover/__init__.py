"""The open package of tables that goes back to the therapist."""
