"""Tetherline: follows a spacewalk sortie live against its plan."""

__version__ = "0.1.0"
