"""One session's page."""
