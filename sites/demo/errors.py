"""What is wrong with a demo file."""


class DemoError(Exception):
    """A demo file says something that a person could not type or do; the message names it."""
