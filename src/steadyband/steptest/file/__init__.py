"""Test files in: TOML and tables, every value checked, and the quality checks of a test."""
