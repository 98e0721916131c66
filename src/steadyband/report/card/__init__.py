"""The zone card."""
