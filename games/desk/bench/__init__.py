"""The desk's bench: a sensor on a patient in the room, its signal, and the tests led on it."""
