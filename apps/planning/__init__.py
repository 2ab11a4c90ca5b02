"""Fixture layouts, what-if and acclimation plans. Empty yet: only its floor is laid."""
