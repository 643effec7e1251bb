"""The cases of every built-in rule and of every plugin in the tree."""

import pytest

from coldcheck import ours
from coldcheck.testing import Trial, every_case


@pytest.mark.parametrize("case", every_case(own=True), ids=str)
def test_built_in_rules(case: Trial) -> None:
    """A built-in rule passes its clean plans, flags its flagged ones, and is content once they are mended."""
    case.check()


@pytest.mark.parametrize("case", every_case([ours.folder("plugins")]), ids=str)
def test_plugins(case: Trial) -> None:
    """A plugin's rule does so too."""
    case.check()
