"""How a program asks in a keeper's name."""

from rest_framework.test import APIClient


def program(user):
    client = APIClient()
    client.force_authenticate(user)
    return client
