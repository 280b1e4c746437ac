"""Made speech and made noise."""
