"""The whole tool in the browser, on this machine alone: a second face of the same rooms and the same files."""
