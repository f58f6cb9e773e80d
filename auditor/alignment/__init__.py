"""Finding where the score lies in the sound."""
