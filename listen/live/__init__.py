"""Many sessions at once: one engine, one microphone, shared by all chairs."""
