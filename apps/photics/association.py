"""The door to `light_association`, where other programs import it from."""

from apps.photics.causes.association import light_association

__all__ = ["light_association"]
