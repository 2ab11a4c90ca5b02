"""How a program signs in, for the schema."""

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema


class BearerScheme(OpenApiAuthenticationExtension):
    target_class = "apps.api.tokens.authentication.BearerAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "A token made under Settings, Access for programs.",
        }
