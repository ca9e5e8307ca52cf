"""Small numerics that several kernels share: root searches between two ends, cubic tables."""

from n2osim.jit import jit, leaf


@jit
def kept_end(a, fa, b, fb, fc):
    """The end (place, value) that brackets the root with a new point, of value ``fc``.

    The root lies between ``a`` and ``b``, ``b`` being the newest. Where the new point is on the
    side of ``b``, ``a`` stays and its value is made smaller, so that the next line through both
    meets the root from the other side (Anderson and Bjoerck, BIT 13, 1973, 253-264; from memory).
    """
    if (fc > 0.0) != (fb > 0.0):
        return b, fb
    m = 1.0 - fc / fb
    return a, fa * (m if m > 0.0 else 0.5)


@leaf
def four_nodes(x, first, count):
    """First of four nodes around ``x`` (in nodes, at least ``first``) and the cubic's weights."""
    i = min(max(int(x) - 1, first), count - 4)
    a = x - i
    b = a - 1.0
    c = a - 2.0
    d = a - 3.0
    return i, -b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0
