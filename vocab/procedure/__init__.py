"""What is asked for next."""
