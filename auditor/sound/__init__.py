"""Reading the sound: samples, level, spectrum."""
