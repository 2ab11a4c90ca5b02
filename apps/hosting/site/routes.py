"""What the workers counted of each address since they started."""

from collections import defaultdict
from dataclasses import dataclass

from apps.hosting.watching import metrics

# A bucket of the counts: from here on a page is slow to whoever waits for it [s].
SLOW_S = 2.5


@dataclass
class Route:
    """How often an address was asked, how long it took in all [s], and what went wrong."""

    route: str
    count: int = 0
    took_s: float = 0.0
    slow: int = 0
    # Answers of 500 and above; and forms and edits of devices that were refused (POST, 4xx).
    failed: int = 0
    refused: int = 0

    @property
    def mean_ms(self) -> float:
        return 1000 * self.took_s / self.count if self.count else 0.0


def routes() -> list[Route]:
    """Return every address that was asked since the start."""
    lines: dict[str, Route] = {}
    quick: dict[str, int] = defaultdict(int)
    for family in metrics.of_all_workers().collect():
        for sample in family.samples:
            name = sample.labels.get("route", "")
            line = lines.setdefault(name, Route(name))
            if sample.name.endswith("_sum"):
                line.took_s += sample.value
            elif sample.name.endswith("_count"):
                _count(line, sample.labels, int(sample.value))
            elif sample.name.endswith("_bucket") and float(sample.labels["le"]) == SLOW_S:
                quick[name] += int(sample.value)
    for name, line in lines.items():
        line.slow = line.count - quick[name]
    return list(lines.values())


def _count(line: Route, labels: dict[str, str], count: int) -> None:
    line.count += count
    if labels["status"] == "5xx":
        line.failed += count
    elif labels["status"] == "4xx" and labels["method"] == "POST":
        line.refused += count
