"""The project: settings, addresses, and what knows every app."""

__version__ = "0.2.0"
