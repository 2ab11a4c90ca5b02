"""Run every benchmark of this folder, one after the other."""

import importlib
import pkgutil

from tests import benchmarks

if __name__ == "__main__":
    for module in sorted(m.name for m in pkgutil.iter_modules(benchmarks.__path__)):
        if module.startswith("bench_"):
            print(f"\n== {module} ==", flush=True)
            importlib.import_module(f"tests.benchmarks.{module}").main()
