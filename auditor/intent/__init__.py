"""What the music leans on: doublings, roles, reliance."""
