"""Placeholder of the geometry, to be overwritten by its author."""
from typing import Any
Move = Any
def explain(*a: Any) -> Any: return []
