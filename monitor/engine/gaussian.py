"""A small Gaussian belief: means and covariance of a handful of unknowns, in plain floats.

Just what a Kalman filter needs and nothing of what any unknown means: `move` carries one unknown
along with a sum of others, `fade` draws one towards a level, `spread` admits ignorance, `correct`
takes one scalar measurement, linearised by the caller.
"""

from __future__ import annotations

import math
from typing import ClassVar


class Gaussian:
    """Means and covariance (rows one after another) of `size` unknowns."""

    KEPT: ClassVar[tuple[str, ...]] = ("cov", "mean")
    __slots__ = ("cov", "mean", "size")

    def __init__(self, mean: list[float], sd: list[float]) -> None:
        self.size = len(mean)
        self.mean = list(mean)
        self.cov = [0.0] * (self.size * self.size)
        for n, value in enumerate(sd):
            self.cov[n * self.size + n] = value * value

    def sd(self, n: int) -> float:
        return math.sqrt(self.cov[n * self.size + n])

    def covariance(self, n: int, k: int) -> float:
        return self.cov[n * self.size + k]

    def spread(self, n: int, variance: float) -> None:
        self.cov[n * self.size + n] += variance

    def move(self, n: int, parts: list[tuple[int, float]]) -> None:
        """Unknown `n` gains the sum of `factor * unknown` over `parts` (none of them `n`);
        covariance only, the caller moves the mean by its own, exact, law."""
        size, cov = self.size, self.cov
        base = n * size
        row = cov[base : base + size]
        own = row[n]
        for k, factor in parts:
            other = k * size
            for j in range(size):
                row[j] += factor * cov[other + j]
        own = row[n]
        for k, factor in parts:
            own += factor * row[k]
        row[n] = own
        for j in range(size):
            cov[base + j] = row[j]
            cov[j * size + n] = row[j]

    def fade(self, n: int, keep: float, floor_variance: float) -> None:
        """Unknown `n` keeps a share of itself and forgets towards a variance; mean left alone."""
        size, cov = self.size, self.cov
        base = n * size
        own = cov[base + n]
        for j in range(size):
            value = cov[base + j] * keep
            cov[base + j] = value
            cov[j * size + n] = value
        cov[base + n] = own * keep * keep + floor_variance * (1.0 - keep * keep)

    def forget(self, n: int, mean: float, sd: float) -> None:
        """Start unknown `n` anew, tied to nothing else."""
        size, cov = self.size, self.cov
        for j in range(size):
            cov[n * size + j] = 0.0
            cov[j * size + n] = 0.0
        cov[n * size + n] = sd * sd
        self.mean[n] = mean

    def directions(self) -> list[list[float]]:
        """One standard deviation along each of `size` independent directions (Cholesky columns)."""
        size, cov = self.size, self.cov
        columns = [[0.0] * size for _ in range(size)]
        for j in range(size):
            own = cov[j * size + j]
            for k in range(j):
                own -= columns[k][j] * columns[k][j]
            root = math.sqrt(own) if own > 1e-16 else 0.0
            columns[j][j] = root
            if root == 0.0:
                continue
            for i in range(j + 1, size):
                value = cov[i * size + j]
                for k in range(j):
                    value -= columns[k][i] * columns[k][j]
                columns[j][i] = value / root
        return columns

    def variance(self, row: list[float]) -> float:
        """Of the weighted sum of the unknowns that `row` gives."""
        size, cov = self.size, self.cov
        used = [n for n in range(size) if row[n] != 0.0]
        total = 0.0
        for j in used:
            base = j * size
            for n in used:
                total += row[j] * cov[base + n] * row[n]
        return total

    def see(self, n: int, value: float, variance: float) -> None:
        """Unknown `n` itself was measured."""
        row = [0.0] * self.size
        row[n] = 1.0
        self.correct(row, value - self.mean[n], variance)

    def correct(
        self, row: list[float], residual: float, variance: float, slow: int = -1, share: float = 1.0
    ) -> list[float]:
        """Take a measurement whose value is `residual` above what the means predict and whose
        derivatives are `row`; gives the change of the means, already applied.

        Of what unknown `slow` would learn it takes a `share` only, its uncertainty still counting
        in full: a partial update (Brink, J. Guid. Control Dyn. 40, 2017), for a law whose errors
        come back day after day and would be taken for that unknown.
        """
        size, cov = self.size, self.cov
        used = [n for n in range(size) if row[n] != 0.0]
        gain = [0.0] * size
        for j in range(size):
            base = j * size
            total = 0.0
            for n in used:
                total += cov[base + n] * row[n]
            gain[j] = total
        scale = variance
        for n in used:
            scale += row[n] * gain[n]
        step = [0.0] * size
        for j in range(size):
            step[j] = gain[j] * residual / scale * (share if j == slow else 1.0)
            self.mean[j] += step[j]
        left = 1.0 - share
        for j in range(size):
            base = j * size
            part = gain[j] / scale
            for n in range(j, size):
                value = cov[base + n] - part * gain[n]
                if n == slow and j == slow:
                    value += left * left * part * gain[n]
                cov[base + n] = value
                cov[n * size + j] = value
            if cov[base + j] < 1e-14:
                cov[base + j] = 1e-14
        return step
