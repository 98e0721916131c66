"""What can be found in a session, and how far the test's uncertainty lets it be said."""
