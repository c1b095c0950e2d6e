"""How long each stage takes, and a voice that says which one runs."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

Progress = Callable[[str], None]


@dataclass(slots=True)
class Stopwatch:
    """Seconds spent in each stage, and a voice that says which stage runs."""

    progress: Progress | None = None
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage; repeated stages add up."""
        if self.progress:
            self.progress(name)
        start = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - start
