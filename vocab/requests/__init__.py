"""Names, and what is asked for in a text."""
