"""Fixture layouts, what-if and acclimation plans."""
