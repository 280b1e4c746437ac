"""The chair screen and its connection."""
