"""The coach's page of all athletes."""
