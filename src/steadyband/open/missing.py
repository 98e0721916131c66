"""What is asked for by a name that nothing has."""


class MissingError(Exception):
    """There is no page, session, test or athlete of that name."""
