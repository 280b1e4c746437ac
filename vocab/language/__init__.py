"""Text to words to sounds, and what is particular to a language."""
