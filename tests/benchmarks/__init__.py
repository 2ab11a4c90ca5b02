"""Measured figures: `make bench` prints them all. None of these is a timed test."""
