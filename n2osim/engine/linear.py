"""Linear algebra of one implicit step: a bordered set of five-diagonal chains.

A bottle is the chain ``fluid | c0 b0 | c1 b1 | ... | heater``; neighbours are at most two places
apart, so its matrix has five diagonals. The air node touches the outer end of every chain and
makes the border. Cost is proportional to the number of nodes. No pivoting: every matrix here is
an identity plus a diagonally dominant exchange matrix.
"""

from __future__ import annotations

from n2osim.jit import leaf


@leaf
def factor(a, n):
    """LU-factor a five-diagonal matrix in place.

    ``a[k, i]`` holds entry (i, i + k - 2): k = 0..4 is the second lower to second upper diagonal.
    The diagonal is left inverted, so that solving needs no division.
    """
    for i in range(n - 1):
        inverse = 1.0 / a[2, i]
        a[2, i] = inverse
        m1 = a[1, i + 1] * inverse
        a[1, i + 1] = m1
        a[2, i + 1] -= m1 * a[3, i]
        a[3, i + 1] -= m1 * a[4, i]
        if i + 2 < n:
            m2 = a[0, i + 2] * inverse
            a[0, i + 2] = m2
            a[1, i + 2] -= m2 * a[3, i]
            a[2, i + 2] -= m2 * a[4, i]
    a[2, n - 1] = 1.0 / a[2, n - 1]


@leaf
def solve(a, n, x):
    """Solve in place with the factors of :func:`factor`; ``x`` is the right-hand side."""
    for i in range(1, n):
        x[i] -= a[1, i] * x[i - 1]
        if i >= 2:
            x[i] -= a[0, i] * x[i - 2]
    for i in range(n - 1, -1, -1):
        v = x[i]
        if i + 1 < n:
            v -= a[3, i] * x[i + 1]
        if i + 2 < n:
            v -= a[4, i] * x[i + 2]
        x[i] = v * a[2, i]
