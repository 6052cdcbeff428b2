"""One relay between you and a station out of reach: the product of two hops, and which is the weaker."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pathprofile.trip.pairs import PairDesk
from pathprofile.trip.ranking import rank
from pathprofile.trip.relays import _relay, best_relays, relayed
from pathprofile.trip.terms import wanted_modes


class _Made(PairDesk):
    """A desk that answers from a table of chances and keeps what it was asked."""

    def __init__(self, hops, make_answer):
        self.hops, self.make_answer, self.asked = hops, make_answer, []

    def answer(self, tasks, **how):
        self.asked.append((len(tasks), how))
        return [
            self.make_answer(
                you.station.name, them.station.name, self.hops[you.station.name, them.station.name]
            )
            for you, them in tasks
        ]


def test_two_hops_are_the_product(make_answer):
    pair = relayed(
        make_answer("Gull Tor", "Ravel Gap", 0.9, 0.8), make_answer("Ravel Gap", "Sandry", 0.6, 0.5)
    )
    assert pair.chance == pytest.approx(0.54)
    assert pair.comfortable_chance == pytest.approx(0.40)
    assert pair.verdict.word == "marginal"
    assert relayed(make_answer("a", "b", 0.9), make_answer("b", "c", None)) is None


def test_a_relay_is_never_likelier_than_its_weaker_hop(make_answer):
    for first, second in np.random.default_rng(7).uniform(0.0, 1.0, (50, 2)):
        pair = relayed(make_answer("a", "b", first), make_answer("b", "c", second))
        assert pair.chance <= min(first, second)


def test_the_best_of_all_is_found_and_its_weaker_hop_named(make_party, make_answer, terms):
    rng = np.random.default_rng(433)
    names = [f"station {k}" for k in range(7)]
    stations = [make_party(name, "46.20000 -21.40000") for name in names]
    for _ in range(30):
        near = {name: float(rng.uniform(0.0, 1.0)) for name in names}
        hops = {(a, b): float(rng.uniform(0.0, 1.0)) for a in names for b in names}
        direct = [make_answer("Gull Tor", name, near[name]) for name in names]
        desk = _Made(hops, make_answer)
        found = best_relays(make_party("Gull Tor", "46.5 -21.1"), stations, direct, None, terms, desk=desk)
        by_target = {relay.to: relay for relay in found}
        for target in names:
            best = max(near[via] * hops[via, target] for via in names if via != target)
            if near[target] < 0.3 and best > near[target]:  # unlikely, and a relay does better
                relay = by_target.pop(target)
                assert relay.pair.chance == pytest.approx(best)
                ends = relay.weaker_hop.split(" to ")
                weaker = "first" if near[relay.via] <= hops[relay.via, target] else "second"
                assert ends == (["Gull Tor", relay.via] if weaker == "first" else [relay.via, target])
                assert relay.weaker_hop in relay.sentence
        assert not by_target


def test_only_wanted_stations_out_of_reach_get_one_and_beacons_do_not_relay(make_party, make_answer, terms):
    stations = [
        make_party("Ravel Gap", "46.20000 -21.40000"),
        make_party("Beacon", "46.20000 -21.30000", receive_only=True),
        make_party("Sandry", "46.10000 -21.20000"),
        make_party("Flaxmill", "46.10000 -21.30000"),
    ]
    chances = {"Ravel Gap": 0.8, "Beacon": 0.99, "Sandry": 0.1, "Flaxmill": 0.2}
    direct = [make_answer("Gull Tor", name, chance) for name, chance in chances.items()]
    hops = {(a, b): 0.9 for a in chances for b in chances}
    desk = _Made(hops, make_answer)
    site = make_party("Gull Tor", "46.50000 -21.10000")
    found = best_relays(site, stations, direct, None, replace(terms, weights={"Flaxmill": 0.0}), desk=desk)
    assert [(relay.via, relay.to) for relay in found] == [("Ravel Gap", "Sandry")]
    assert found[0].sentence == (
        "Sandry by way of Ravel Gap: workable, about 7 in 10; "
        "the weaker hop is Gull Tor to Ravel Gap, workable, about 8 in 10."
    )
    assert found[0].direct_chance == 0.1
    assert [how.get("pictures") for _, how in desk.asked] == [False, False]
    assert best_relays(site, stations[:1], direct[:1], None, terms, desk=desk) == ()


def test_on_the_island_the_gap_hands_on_to_the_marsh(island, islander, terms):
    fm = replace(terms, wanted=wanted_modes([145.0], ["fm"]))
    you = islander("Gull Tor", unstated="open")
    stations = [islander(name) for name in ("Ravel Gap", "Quillhaven", "Marsh End")]
    ranking = rank(you, stations, island, fm)
    (relay,) = best_relays(you, stations, ranking.rows, island, fm)
    assert (relay.via, relay.to) == ("Ravel Gap", "Marsh End")
    second = rank(stations[0], [stations[2]], island, fm).rows[0]
    first = next(row for row in ranking.rows if row.them == "Ravel Gap")
    assert relay.pair.chance == pytest.approx(first.chance * second.chance)
    assert relay.pair.chance > relay.direct_chance


def test_a_hop_whose_methods_part_gives_the_relay_both_verdicts(make_party, make_answer):
    bad = make_answer("", "", 0.02).pair
    first = replace(make_answer("Gull Tor", "Oakenby", 0.9), methods_part=True, second=bad, apart_db=38.0)
    second = make_answer("Oakenby", "Sandry", 0.95)
    direct = make_answer("Gull Tor", "Sandry", 0.01)
    found = _relay(make_party("Gull Tor", "46.50000 -21.10000"), first, second, direct)
    # 0.9 · 0.95 = 0.86 and 0.02 · 0.95 = 0.02
    assert found.sentence.startswith(
        "Sandry by way of Oakenby: workable or unlikely: about 9 in 10 or below 1 in 20 "
        "(methods part by 38 dB);"
    )
    agreed = _relay(
        make_party("Gull Tor", "46.50000 -21.10000"), replace(first, methods_part=False), second, direct
    )
    assert agreed.sentence.startswith("Sandry by way of Oakenby: workable, about 9 in 10; ")
