VOICES = {}
