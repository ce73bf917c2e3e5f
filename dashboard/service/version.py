"""The version of the program."""

import dashboard


def program_version() -> str:
    """As the package says it."""
    return dashboard.__version__
