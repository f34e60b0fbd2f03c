"""Names that a room hands on, each loaded when it is first asked for."""

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def on_first_use(room: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a package that hands on names from its modules.

    Parameters
    ----------
    room : str
        The package.
    homes : mapping of str to str
        For each module the names it holds, with spaces between them.
    """
    home_of = {name: home for home, names in homes.items() for name in names.split()}

    def find(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"{room} has no {name!r}; it offers: {', '.join(sorted(home_of))}")
        return getattr(import_module(home_of[name]), name)

    return find
