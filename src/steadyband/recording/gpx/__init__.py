"""GPX tracks: read by streaming, with gpxpy as the reference and the fallback."""
