"""What is heard: voices made of sines and noise, the loudspeaker, and the system's own speech."""
