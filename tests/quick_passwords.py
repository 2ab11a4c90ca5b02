"""Passwords that take no time to hash, in the form that a served app reads."""

from django.contrib.auth.hashers import PBKDF2PasswordHasher


class QuickHasher(PBKDF2PasswordHasher):
    iterations = 1
