"""The pages of a block and of a season."""
