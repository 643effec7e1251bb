"""Coldcheck: cold checks for hand-built clusters, by computation, before power is applied.

This module is what rule modules import. It knows no trade; the trades are in `coldcheck.dc`, `coldcheck.lan` and in
the folder ``rules``.
"""

from coldcheck.engine.findings import Finding, Level, Open, Review
from coldcheck.engine.rules import Case, cases, rule, working
from coldcheck.plan.edit import Put, Take
from coldcheck.plan.quantities import Measure

__all__ = ["Case", "Finding", "Level", "Measure", "Open", "Put", "Review", "Take", "cases", "rule", "working"]

__version__ = "0.1.0"
