"""Learning how a user's own library sounds: a kit to render, and templates out of it."""
