"""FIT activities: read by columns, with fitdecode as the reference and the fallback."""
