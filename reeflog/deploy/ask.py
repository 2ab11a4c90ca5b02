"""Asks an address of the app itself, as a health check does: ask.py [--wait SECONDS] ADDRESS"""

import sys
import time
import urllib.request


def main() -> int:
    """Return 0 once the address answers 200, 1 when it does not in time."""
    *options, address = sys.argv[1:]
    until = time.monotonic() + (float(options[1]) if options[:1] == ["--wait"] else 0)
    while True:
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:
                print(answer.read(2000).decode().strip())
                return 0
        except OSError as problem:
            if time.monotonic() >= until:
                print(f"{address}: {problem}", file=sys.stderr)
                return 1
        time.sleep(0.3)


if __name__ == "__main__":
    sys.exit(main())
