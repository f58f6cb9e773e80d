"""What a person reads, hears and looks at."""
