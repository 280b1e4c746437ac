"""The measuring stick: synthesized voices, chair noise and sentences to hear the engines with.

Nothing here runs when the tool listens; it makes test material and counts what the engines make of it.
"""
