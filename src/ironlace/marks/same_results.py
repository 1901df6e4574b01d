"""Two findings of one analysis compared by the names of their results."""

from collections.abc import Callable

from ironlace.evidence.findings import Finding


def same_by_name(
    kept: Finding, again: Finding, alike: Callable[[object, object], bool], what: str
) -> str:
    """Compare two findings; empty when all results agree, else what differs.

    Parameters
    ----------
    alike
        Whether a value agrees with the one that was kept, which comes first.
    what
        What other names of results stand for, such as `places`.
    """
    had, has = ({r.name: r for r in one.results} for one in (kept, again))
    if had.keys() != has.keys():
        return f"comes out with other {what}"
    for name, one in had.items():
        if not alike(one.value, has[name].value):
            return f"'{name}' comes out as {has[name].value_in_words()}, not {one.value_in_words()}"
    return ""
