"""How much a batch still says: older ones fade, by a half-life."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

#: Days after which a batch says half as much, where nobody says otherwise: hands, machines and suppliers change.
HALF_LIFE = 365.0


def weights(days: Sequence[date], as_of: date, half_life: float = HALF_LIFE) -> np.ndarray:
    """What each batch counts on a day: 1 on its own day, a half one half-life (in days) later, a quarter after two.

    A batch of a later day than `as_of` counts nothing. Shape as `days`.
    """
    ages = np.array([(as_of - day).days for day in days], dtype=float)
    return np.where(ages < 0, 0.0, 0.5 ** (np.maximum(ages, 0.0) / half_life))
