"""Who may come in, and to which pages."""
