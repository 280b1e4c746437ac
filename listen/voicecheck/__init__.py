"""The voice check: does traycall hear a clinic's own people? Recordings are kept only if they agree."""
