"""The practice pages and their connection."""
