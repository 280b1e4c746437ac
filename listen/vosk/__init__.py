"""The other engine."""
