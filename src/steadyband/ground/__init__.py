"""What every room stands on: errors, units, settings, files opened and written safely, foreign text made plain."""
