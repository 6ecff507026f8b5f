"""Judges measured faces against the truth that a renderer wrote beside each photo."""
