"""Placeholder of the geometry, to be overwritten by its author."""
from typing import Any
Grid = Any
def grid(*a: Any) -> Any: return None
