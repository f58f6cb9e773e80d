"""Says which lines of an orchestral mock-up a listener would barely hear."""
