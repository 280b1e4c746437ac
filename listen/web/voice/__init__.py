"""Pages of the voice check: reading the lines, and the recordings that were kept."""
