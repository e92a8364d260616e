"""Chance for the simulated server: ids and secrets from a seed."""

from __future__ import annotations

from random import Random

LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"


class SeededChance:
    """Ids and secrets from a seed."""

    def __init__(self) -> None:
        self.random = Random(0)

    def new_id(self) -> str:
        digits = f"{self.random.getrandbits(128):032x}"
        return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))

    def device_id(self) -> str:
        return "".join(self.random.choice(LETTERS) for _ in range(12))

    def secret(self) -> str:
        return f"{self.random.getrandbits(256):064x}"

    def recovery_code(self) -> str:
        return self.secret()[:24]
