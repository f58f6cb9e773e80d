"""Craft: what players will say about the page, from the score alone."""
