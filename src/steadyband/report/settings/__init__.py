"""Every setting with its value, source and range."""
