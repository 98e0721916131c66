"""The week's page."""
