"""From audibility and intent to findings."""
