"""What a pack holds, and how it is read."""
