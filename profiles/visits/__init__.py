"""What happens with the patient in the room, or away from it: tests, absence, discharge, and who signed what."""
