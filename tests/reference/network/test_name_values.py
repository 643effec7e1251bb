"""Host names against the RFCs, rows in names.toml."""

import tomllib
from pathlib import Path
from typing import Any

from coldcheck.lan import names

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("names.toml").read_text(encoding="utf-8"))


def test_lengths() -> None:
    """Labels hold 63 characters, names 253, the old table 24 (RFC 1035 section 2.3.4, RFC 952)."""
    row = ROWS["names"]
    assert row["label_max_chars"] == names.LABEL_MAX
    assert row["name_max_text_chars"] == names.NAME_MAX
    assert row["rfc952_name_max_chars"] == names.OLD_TABLE_MAX
    assert names.problem_with_label("a" * row["label_max_chars"]) is None
    assert names.problem_with_label("a" * (row["label_max_chars"] + 1)) is not None


def test_longest_lawful_name() -> None:
    """E32: labels of 63, 63, 63, 61 make the longest name, 253 characters and 255 octets (RFC 1035)."""
    row = ROWS["E32"]
    name = ".".join("a" * length for length in row["label_lengths"])
    assert len(name) == row["answer_text_chars"]
    assert names.wire_octets(name) == row["answer_wire_octets"] == ROWS["names"]["name_max_wire_octets"]
    assert names.problem_with_name(name) is None
    assert names.problem_with_name(name + ".") is None
    assert names.problem_with_name(name + "a") is not None


def test_special_domains() -> None:
    """Domains set aside are known with their document and whether a LAN zone may bear them (RFC 6761)."""
    for row in ROWS["special_domain"]:
        found = names.special_domain("n1." + row["domain"].upper())
        assert found is not None
        assert found.domain == row["domain"]
        assert found.source in row["rfc"]
        assert found.zone_ok is row["unicast_lan_zone_ok"]
    for domain in ROWS["collision"]["not_to_be_delegated"] + ROWS["collision"]["used_but_not_reserved"]:
        found = names.special_domain(f"n1.{domain}")
        assert found is not None
        assert not found.zone_ok


def test_reserved_hosts() -> None:
    """Names of hosts files and discovery are never a machine's (common practice)."""
    assert frozenset(ROWS["reserved_hosts"]["words"]) == names.NEVER_A_MACHINE
