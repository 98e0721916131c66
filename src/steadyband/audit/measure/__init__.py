"""What depends on the recording and the edges alone: loads, bands, surges, drift, ground, climbs."""
