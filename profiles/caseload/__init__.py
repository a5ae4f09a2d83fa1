"""Many patients at once: tables, and who needs attention first."""
