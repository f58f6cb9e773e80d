"""Commands: one module for each word after the program's name."""
