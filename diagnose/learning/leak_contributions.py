"""Contributions that meet on one effect, and what the evidence says of each: where known causes meet a
leak."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.learning.whole_network import Arrow
from diagnose.network.network import Array


@dataclass(frozen=True, slots=True, eq=False)
class LeakContributions:
    """A leak, and the contributions of causes known to be there, in those cases (columns) where any is.

    `sources`: the leak's and each arrow's, shape (states, columns) each.
    """

    columns: NDArray[np.intp]
    sources: list[Array]
    arrows: list[Arrow]

    def largest(self) -> Array:
        """The distribution of the largest of them."""
        return _largest(self.sources)

    def each(self, given: Array) -> list[Array]:
        """The distribution of each of them, if `given` is that of their largest by the evidence.

        P(contribution = z, largest = t) = P(z) x P(largest of the others = t) for z < t, x P(others <= t) for
        z = t.
        """
        found = []
        for place, source in enumerate(self.sources):
            others = _largest([*self.sources[:place], *self.sources[place + 1 :]])
            joint = np.zeros((len(source), *source.shape))
            below = np.cumsum(others, axis=0)
            for t in range(len(source)):
                joint[:t, t] = source[:t] * others[t]
                joint[t, t] = source[t] * below[t]
            whole = joint.sum(axis=0)
            shares = np.divide(joint, whole, out=np.zeros_like(joint), where=whole > 0)
            found.append((shares * given).sum(axis=1))
        return found


def _largest(sources: list[Array]) -> Array:
    below = np.cumsum(sources[0], axis=0)
    for source in sources[1:]:
        below = below * np.cumsum(source, axis=0)
    return np.diff(below, axis=0, prepend=0.0)
