"""How often someone may ask. A token bucket for each address, forgotten when it has filled up again."""

from __future__ import annotations


class Bucket:
    """Lets `burst` through at once, and `each_second` in the long run, by key. Times in seconds.

    Args:
        each_second: How many a second.
        burst: How many at once.
        most_keys: Keys remembered; when there are more, the full ones are forgotten, and if that is not enough, all.
    """

    def __init__(self, each_second: float, burst: float, *, most_keys: int = 2000) -> None:
        self._rate = each_second
        self._burst = burst
        self._most = most_keys
        self._levels: dict[str, tuple[float, float]] = {}

    def allow(self, key: str, now: float, cost: float = 1.0) -> bool:
        """Tell whether one more may pass, and count it if so."""
        level = self._level(key, now)
        if level < cost:
            self._levels[key] = (level, now)
            return False
        self._levels[key] = (level - cost, now)
        if len(self._levels) > self._most:
            self._forget(now)
        return True

    def _level(self, key: str, now: float) -> float:
        level, when = self._levels.get(key, (self._burst, now))
        return min(self._burst, level + (now - when) * self._rate)

    def _forget(self, now: float) -> None:
        self._levels = {key: value for key, value in self._levels.items() if self._level(key, now) < self._burst}
        if len(self._levels) > self._most:
            self._levels.clear()
