"""What the home side does for its screens and commands: letters, hand-overs, the patient's own sensors."""
