"""Teaches the embedded engine's network the clinic's words and noise, by a small low-rank addition."""
