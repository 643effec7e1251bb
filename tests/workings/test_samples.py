"""Tolerance studies of whole plans, against closed forms, the corners of a lint, and single solves."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from coldcheck.workings.samples import Judged, Law, Study, _Sampler, study

SOLDERED = '[[part]]\nid = "s"\nkind = "plug"\nohms = "0 ohm"\naged = "0 ohm"\n'
FERRY = Path(__file__).parents[2] / "inventories" / "ferry-cabin.toml"


def studied(working: Any, samples: int = 20_000, law: Law = "uniform", seed: int = 3) -> Study:
    """Return a study of a plan."""
    return study(working.plan, working.working("nets"), samples, seed, law)


def limit(found: Study, says: str) -> Judged:
    """Return the limit of a study whose words begin so."""
    return next(one for one in found.limits if one.says.startswith(says))


ONE = (
    SOLDERED + '[[feed]]\nid = "f"\nvolts = "5 V"\nspread = "2 %"\nplug = "s"\namps = "5 A"\n'
    '[[node]]\nid = "n"\nfrom = "f"\nplug = "s"\nvolts = "4.85 V .. 5.25 V"\npeak = "1 A"\nload = "current"\n'
    'lead = "{lead}"\n'
)


def test_share_is_that_of_the_closed_form(worked: Any) -> None:
    """5 V ± 0.1 V, evenly spread, less 0.1 V is at least 4.85 V in 75 of 100 boxes."""
    held = limit(studied(worked(ONE.format(lead="100 mohm")), 50_000), "volts at n").held
    assert held.low < 0.75 < held.high
    assert held.share == pytest.approx(0.75, abs=0.01)


def test_normal_spread(worked: Any) -> None:
    """At ± 3 sigma = 0.1 V, half a hundredth below the middle less 0.1 V is 1.5 sigma: 93.3 of 100 hold."""
    from scipy.stats import truncnorm

    found = studied(worked(ONE.format(lead="100 mohm")), 50_000, "normal")
    expected = float(truncnorm(-3, 3).sf(-1.5))
    assert limit(found, "volts at n").held.share == pytest.approx(expected, abs=0.005)


def test_worst_law_reaches_the_corners_of_a_lint(worked: Any) -> None:
    """With the ends alone, the lowest volts of all samples are those of the worst corner, and none are lower."""
    working = worked(ONE.format(lead="20 AWG, 1 m").replace('plug = "s"\nvolts', "volts"))
    net = working.working("nets")["f"]
    found = limit(studied(working, 5_000, "worst"), "volts at n")
    assert found.found.low == pytest.approx(net.worst.volts[0], abs=1e-9)
    assert found.nominal == pytest.approx(net.nominal.volts[0])


def test_what_decides_is_named(worked: Any) -> None:
    """Of ± 0.1 V at the source and some millivolts in the lead, the source decides."""
    found = limit(studied(worked(ONE.format(lead="18 AWG, 100 mm"))), "volts at n")
    assert found.parts[0].name == "volts of f"
    assert found.parts[0].share > 0.95
    assert found.parts[0].sign == 1


def test_draws_spread_between_their_figures(worked: Any) -> None:
    """A board of 0.4 to 1 A, typically 0.8 A, gives samples between these and no others."""
    text = ONE.format(lead="100 mohm").replace(
        'peak = "1 A"', 'peak = "1 A"\ntypical = "0.8 A"\nidle = "0.4 A"'
    )
    amps = limit(studied(worked(text)), "amps of f").values
    assert amps.min() == pytest.approx(0.4, abs=0.01)
    assert amps.max() == pytest.approx(1.0, abs=0.01)
    assert "n: drawn at its peak throughout" not in studied(worked(text)).assumed
    assert studied(worked(ONE.format(lead="100 mohm"))).assumed == ["n: drawn at its peak throughout"]


def test_converters_take_what_they_give_sample_by_sample(worked: Any) -> None:
    """24 V and 5 V 2 A to 4 A at 80 %: the feed gives the watts of the rail over 0.8 in every sample."""
    text = (
        SOLDERED + '[[feed]]\nid = "f"\nvolts = "24 V"\nspread = "10 %"\nplug = "s"\namps = "5 A"\n'
        '[[supply]]\nid = "c"\nfrom = "f"\nplug = "s"\nlead = "0 ohm"\nefficiency = "80 %"\nstanding = "1 W"\n'
        '[[supply.rail]]\nid = "r"\nvolts = "5 V"\nspread = "0 %"\nplug = "s"\namps = "9 A"\n'
        '[[node]]\nid = "n"\nfrom = "c.r"\nplug = "s"\nlead = "0 ohm"\nvolts = "4 V .. 6 V"\n'
        'peak = "4 A"\nidle = "2 A"\nload = "current"\n'
    )
    working = worked(text)
    sampler = _Sampler(working.plan, working.working("nets"), 2_000, 1, "uniform", lambda share: None)
    sampler.run()
    feed, rail = sampler.solved["f"], sampler.solved["c.r"]
    np.testing.assert_allclose(feed.watts[-1], rail.watts[-1] / 0.8 + 1.0, rtol=1e-9)
    assert rail.watts[-1].min() == pytest.approx(10.0, abs=0.1)
    assert rail.watts[-1].max() == pytest.approx(20.0, abs=0.1)


def test_nets_that_hang_together_agree_with_single_solves(worked: Any) -> None:
    """Of the ferry cabin, samples of the coupled nets have the volts that one solve of the same numbers gives."""
    from coldcheck.dc import circuit, network

    working = worked(FERRY.read_text(encoding="utf-8"))
    nets = working.working("nets")
    sampler = _Sampler(working.plan, nets, 1_000, 1, "uniform", lambda share: None)
    sampler.run()
    assert not sampler.left_out
    group = nets["box.5v"].group
    drawn = [sampler._draw_net(net, k) for k, net in enumerate(group.nets)]
    wires = sampler._wires(group, [ohms for _, ohms, _, _ in drawn])
    for sample in (0, 1, 999):
        loads = []
        for k, net in enumerate(group.nets):
            columns = sampler._loads(net, 0.0, drawn[k][2])
            for i in range(len(net.branches)):
                plus, minus = group.load_at.get((k, i), group.ends[k][i][:2])
                loads.append(circuit.Load(plus, minus, *(float(column[i][sample]) for column in columns)))
        whole = circuit.Circuit(
            group.count,
            [
                circuit.Wire(a, b, float(r[sample]))
                for a, b, r in zip(wires.a, wires.b, wires.ohms, strict=True)
            ],
            [
                circuit.Source(group.plus[k], group.ground["box"], float(drawn[k][0][sample]))
                for k in range(len(group.nets))
            ],
            [],
            loads,
        )
        point = network.solve(whole)
        for k, net in enumerate(group.nets):
            mine = sampler.solved[net.name].volts[0]
            for i in range(len(net.branches)):
                theirs = group.volts_of(point.volts, k, i)
                assert mine[i][sample] == pytest.approx(theirs, rel=1e-6)


def test_the_same_seed_gives_the_same_numbers(worked: Any) -> None:
    """Two studies of one seed are equal to the last digit; another seed gives others."""
    working = worked(ONE.format(lead="100 mohm"))
    one, two, other = (limit(studied(working, seed=s), "volts at n").values for s in (1, 1, 2))
    assert (one == two).all()
    assert (one != other).any()


def test_what_is_not_known_is_left_out(worked: Any) -> None:
    """Without a lead nothing is said of the volts that arrive, and the missing lead is named."""
    found = studied(worked(ONE.format(lead="LEAD").replace('lead = "LEAD"\n', "")))
    assert not any(one.says.startswith("volts") for one in found.limits)
    assert found.left_out == ["n: lead is not given"]


def test_diodes_are_solved_sample_by_sample(worked: Any) -> None:
    """Behind a diode of 0.3 V in each of two leads without resistance, the higher source decides in every sample."""
    text = SOLDERED
    for name, volts in (("a", "5.2 V"), ("b", "5.1 V")):
        text += f'[[feed]]\nid = "{name}"\nvolts = "{volts}"\nspread = "3 %"\nplug = "s"\n'
        text += f'[[inline]]\nid = "d{name}"\nwhat = "diode"\ndrop = "0.3 V"\nfrom = "{name}"\nplug = "s"\n'
        text += 'lead = "0 ohm"\n[[inline.outlet]]\nid = "o"\nplug = "s"\n'
    text += '[[inline]]\nid = "bar"\nwhat = "run"\nfrom = ["da.o", "db.o"]\nplug = "s"\nlead = "0 ohm"\n'
    text += '[[inline.outlet]]\nid = "o"\nplug = "s"\n[[node]]\nid = "n"\nfrom = "bar.o"\nplug = "s"\n'
    text += 'volts = "4 V .. 6 V"\npeak = "1 A"\nload = "current"\nlead = "0 ohm"\n'
    working = worked(text)
    found = studied(working, 100_000)
    assert found.samples == 2_000
    sampler = _Sampler(working.plan, working.working("nets"), 2_000, 3, "uniform", lambda share: None)
    group = working.working("nets")["a"].group
    drawn = np.array([sampler._draw_net(net, k)[0] for k, net in enumerate(group.nets)])
    expected = drawn.max(axis=0) - 0.3
    assert (np.abs(drawn[0] - drawn[1]) > 0.01).sum() > 1_500
    np.testing.assert_allclose(limit(found, "volts at n").values, expected, atol=2e-5)
