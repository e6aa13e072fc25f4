"""How passwords and PINs are hashed."""

from __future__ import annotations

from django.contrib.auth.hashers import Argon2PasswordHasher


class ShopArgon2Hasher(Argon2PasswordHasher):
    """Argon2id with 19 MiB, two passes, one lane: OWASP's minimum, some 25 to 40 ms of one core that others use too."""

    time_cost = 2
    memory_cost = 19 * 1024
    parallelism = 1
