"""A copy of a page for somebody else."""
