"""The command line, one file a topic."""
