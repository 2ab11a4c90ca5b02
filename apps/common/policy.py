"""The page policy's nonce, under the name templates and django-htmx look for."""


def csp_nonce(request):
    return {"csp_nonce": getattr(request, "csp_nonce", "")}
