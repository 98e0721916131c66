"""A planned way's page."""
