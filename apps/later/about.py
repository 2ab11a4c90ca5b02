"""Which tank a job is about, so that its page leads back there; the app of tanks says so."""

from apps.common.registry import Registry

# Providers(job) of the one tank, where its keeper may see it.
TANKS: Registry[object] = Registry()
