"""VLAN ids and the tag against the table of special ids, row in vlan.toml."""

import tomllib
from pathlib import Path
from typing import Any

from coldcheck.lan import frames, vlan

ROW: dict[str, Any] = tomllib.loads(Path(__file__).with_name("vlan.toml").read_text(encoding="utf-8"))["vlan"]


def test_ids() -> None:
    """Of all 12-bit ids 1 to 4094 may name a VLAN, 0 and 4095 not (IEEE 802.1Q-1998 as quoted)."""
    lawful = [number for number in range(1 << ROW["id_bits"]) if vlan.problem_with_id(number) is None]
    assert lawful == list(range(ROW["id_min_usable"], ROW["id_max_usable"] + 1))
    assert len(lawful) == ROW["usable_count"]
    assert ROW["id_max_usable"] == vlan.ID_MAX
    assert ROW["id_default_pvid"] == vlan.DEFAULT_ID
    assert vlan.problem_with_id(ROW["id_priority_tag_only"]) is not None
    assert vlan.problem_with_id(ROW["id_reserved"]) is not None


def test_doubtful_ids() -> None:
    """Only the ids that some makers take are doubtful, and they are lawful (study notes, read second-hand)."""
    doubtful = [number for number in range(1 << ROW["id_bits"]) if vlan.doubt_about_id(number) is not None]
    assert doubtful == ROW["vendor_reserved_ids"]
    assert all(vlan.problem_with_id(number) is None for number in doubtful)


def test_tag() -> None:
    """A tag is TPID 0x8100, then 3, 1 and 12 bits, four octets in all (encyclopaedia extract)."""
    tpid = int(ROW["tpid_hex"], 16)
    assert tpid == vlan.TPID
    assert vlan.tag(0) == tpid << 16
    assert vlan.tag(ROW["id_max_usable"], 7, True).bit_length() == 8 * ROW["tag_octets"]
    assert ROW["tag_octets"] == frames.TAG
    assert vlan.tag(0, 1) - vlan.tag(0) == 1 << (ROW["dei_bits"] + ROW["id_bits"])
    assert ROW["pcp_bits"] + ROW["dei_bits"] + ROW["id_bits"] == 16
