"""Frame sizes, goodput and frame rates against published figures and printed errors, rows in frames.toml."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from coldcheck.lan import frames

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("frames.toml").read_text(encoding="utf-8"))
RATES = {"fps_10m": 1e7, "fps_100m": 1e8, "fps_1g": 1e9, "fps_10g": 1e10}


def test_sizes() -> None:
    """Frames and what stands around them have the tabled sizes (IEEE 802.3)."""
    row = ROWS["frame"]
    assert row["preamble_sfd_octets"] == frames.PREAMBLE
    assert row["interframe_gap_octets"] == frames.GAP
    assert row["header_octets"] == frames.HEADER
    assert row["fcs_octets"] == frames.FCS
    assert row["vlan_tag_octets"] == frames.TAG
    assert row["frame_min_octets"] == frames.SHORTEST
    assert row["frame_max_octets"] == frames.LONGEST == frames.frame_of(frames.MTU)
    assert row["frame_max_tagged_octets"] == frames.LONGEST_TAGGED == frames.frame_of(frames.MTU, 1)
    assert row["frame_envelope_max_octets"] == frames.LONGEST_ENVELOPE
    assert row["mtu_octets"] == frames.MTU == frames.mtu_of(frames.LONGEST)
    assert row["wire_octets_per_full_frame"] == frames.wire_octets(frames.LONGEST)


def test_mtu_to_frame() -> None:
    """A frame is 18, 22, 26 octets longer than the IP MTU with 0, 1, 2 tags (router guide, read)."""
    keys = ("untagged", "tagged", "double_tagged")
    for tags, key in enumerate(keys):
        more = ROWS["frame"][f"mtu_to_frame_{key}_octets"]
        for mtu in (1280, frames.MTU, frames.JUMBO_MTU):
            assert frames.frame_of(mtu, tags) == mtu + more
            assert frames.mtu_of(mtu + more, tags) == mtu


def test_link_mtus() -> None:
    """A link carries 68 octets of IPv4 and 1280 of IPv6 at least; long frames mean 9000 (Q&A text)."""
    row = ROWS["jumbo"]
    assert {4: row["ipv4_link_mtu_min_octets"], 6: row["ipv6_link_mtu_min_octets"]} == frames.LEAST_LINK_MTU
    assert row["common_mtu_octets"] == frames.JUMBO_MTU
    assert frames.frame_of(frames.JUMBO_MTU) > frames.LONGEST_ENVELOPE


@pytest.mark.parametrize("row", ROWS["tunnel"], ids=lambda row: row["name"])
def test_tunnels(row: dict[str, Any]) -> None:
    """Inside a tunnel over 1500 octets the IP MTU is the published one (RFCs in the row, from memory)."""
    assert frames.inner_mtu(row["outer_mtu_octets"], row["name"]) == row["inner_mtu_octets"]
    assert frames.outer_mtu(row["inner_mtu_octets"], row["name"]) == row["outer_mtu_octets"]


def test_goodput_of_a_full_frame() -> None:
    """E18: 100 Mbit/s carry 94.93 Mbit/s, 11.87 MB/s or 11.32 MiB/s (protocol-efficiency article)."""
    row = ROWS["E18"]
    assert frames.goodput_share() == pytest.approx(row["payload_octets"] / row["wire_octets"], rel=1e-12)
    assert 100 * frames.goodput_share() == pytest.approx(row["answer_percent"], abs=0.005)
    carried = frames.goodput(row["line_mbps"] * 1e6)
    assert carried / 1e6 == pytest.approx(row["answer_mbps"], abs=0.005)
    assert frames.octets_per_second(carried) / 1e6 == pytest.approx(row["answer_mbyte_per_s"], abs=0.005)
    assert frames.mib_per_second(carried) == pytest.approx(row["answer_mibyte_per_s"], abs=0.005)


def test_goodput_of_other_layouts() -> None:
    """Timestamps, a tag, 9000 octets and IPv6 change the share as tabled (packet layout)."""
    row = ROWS["goodput"]
    shares = {
        "efficiency_percent": frames.goodput_share(),
        "tagged_efficiency_percent": frames.goodput_share(tags=1),
        "jumbo_efficiency_percent": frames.goodput_share(frames.JUMBO_MTU),
        "ipv6_efficiency_percent": frames.goodput_share(family=6),
    }
    for key, share in shares.items():
        assert 100 * share == pytest.approx(row[key], abs=0.0005), key
    stamped = frames.goodput(1e9, timestamps=True)
    assert stamped / 1e6 == pytest.approx(row["with_timestamps_mbps"], abs=0.01)
    assert frames.octets_per_second(stamped) / 1e6 == pytest.approx(
        row["with_timestamps_mbyte_per_s"], abs=0.01
    )
    long = frames.octets_per_second(frames.goodput(1e9, frames.JUMBO_MTU))
    assert long / 1e6 == pytest.approx(row["jumbo_gbe_mbyte_per_s"], abs=0.005)


@pytest.mark.parametrize("row", ROWS["goodput_by_speed"], ids=lambda row: str(row["speed_mbps"]))
def test_goodput_by_speed(row: dict[str, Any]) -> None:
    """Every speed carries its share (1460 of 1538 octets)."""
    carried = frames.goodput(row["speed_mbps"] * 1e6)
    assert carried / 1e6 == pytest.approx(row["goodput_mbps"], abs=0.005)
    assert frames.octets_per_second(carried) / 1e6 == pytest.approx(row["goodput_mbyte_per_s"], abs=0.005)


def test_a_terabyte() -> None:
    """10^12 octets take 8427 s over 1 Gbit/s (10^12 / 118.66 10^6)."""
    row = ROWS["terabyte"]
    assert round(frames.seconds_to_move(row["octets"], frames.goodput(1e9))) == row["seconds_over_gbe"]


@pytest.mark.parametrize("row", ROWS["frame_rate"], ids=lambda row: str(row["frame_octets"]))
def test_frame_rates(row: dict[str, Any]) -> None:
    """Frame rates are those of RFC 2544 and RFC 5180, whole frames only."""
    for key, bits in RATES.items():
        assert int(frames.frame_rate(bits, row["frame_octets"])) == row[key]


def test_largest_frame_rates() -> None:
    """E19: 1 488 095 and 81 274 frames a second at 1 Gbit/s, ten times as many at 10 (RFC 2544 table)."""
    row = ROWS["E19"]
    for place, octets in enumerate(row["frame_octets"]):
        assert int(frames.frame_rate(1e9, octets)) == row["answer_fps_1g"][place]
        assert int(frames.frame_rate(1e10, octets)) == row["answer_fps_10g"][place]


def test_the_gap_counts() -> None:
    """T05: 95.67 % forgets the gap of 12 octets; 94.93 % holds (encyclopaedia text)."""
    row = ROWS["T05"]
    assert (
        row["wire_octets_used"] + frames.GAP
        == frames.wire_octets(frames.LONGEST)
        == row["correct_wire_octets"]
    )
    assert 100 * frames.goodput_share() == pytest.approx(row["correct_percent"], abs=0.005)
    assert abs(100 * frames.goodput_share() - row["percent"]) > 0.7


def test_headers_are_no_payload() -> None:
    """T08: 97.53 % counts headers as payload, 97.28 % with a tag; 94.93 and 94.68 % hold (overhead article)."""
    row = ROWS["T08"]
    assert 100 * frames.MTU / frames.wire_octets(frames.LONGEST) == pytest.approx(
        row["payload_only_percent"], abs=0.005
    )
    assert 100 * frames.MTU / frames.wire_octets(frames.LONGEST_TAGGED) == pytest.approx(
        row["with_tag_percent"], abs=0.005
    )
    assert 100 * frames.goodput_share(tags=1) == pytest.approx(row["tcp_with_tag_percent"], abs=0.005)
    assert 100 * frames.goodput_share() < row["payload_only_percent"] - 2.5
