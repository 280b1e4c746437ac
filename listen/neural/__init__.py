"""The embedded engine: every way of asking for every name scored by a small neural model."""
