import math
from dataclasses import replace

import pytest

from pathprofile.errors import StationError
from pathprofile.link import (
    PathFacts,
    PathQuestion,
    Spread,
    common_bands,
    evaluate,
    evaluate_modes,
    pair_chances,
)
from pathprofile.link.words import odds_text, verdict
from pathprofile.station import Station
from pathprofile.station.catalogue import MODES

PATH = PathFacts(144.3, 172.0, 44.0, 226.0)


def hilltop_and_home(make_end, mode: str = "ssb", mhz: float = 144.3):
    """A 10 W hilltop with a log-periodic, a 50 W home with a 10 m mast."""
    you = make_end(
        mhz=mhz,
        mode=mode,
        antenna={"kind": "log-periodic"},
        feedline={"loss_db": 1.8},
        power_w=10,
        height_m=6,
        noise={"category": "rural"},
    )
    them = make_end(
        "Marsh End",
        mhz=mhz,
        mode=mode,
        antenna={"kind": "5-element beam"},
        feedline={"loss_db": 1.6},
        power_w=50,
        height_m=10,
        noise={"category": "residential"},
    )
    return you, them


def test_who_hears_whom_and_why(make_end) -> None:
    link = evaluate(*hilltop_and_home(make_end), PATH)
    assert link.who_hears_whom == (
        "You will hear Marsh End well. They may not hear you: your 10 W against their 50 W is 7 dB, "
        "and their home noise costs 4 dB more."
    )
    assert link.weaker == "out"
    assert link.out is not None
    assert link.back is not None
    # the reasons add up: 6.99 dB of power and the difference of the noises
    ahead_db = link.back.budget.margin_db - link.out.budget.margin_db
    noise_db = link.out.budget.noise_dbm - link.back.budget.noise_dbm
    assert ahead_db == pytest.approx(10 * math.log10(5) + noise_db, abs=1e-9)
    assert round(noise_db) == 4


def test_the_other_way_round(make_end) -> None:
    you, them = hilltop_and_home(make_end)
    link = evaluate(replace(them, station="Marsh End"), replace(you, station="Gull Tor"), PATH.reversed())
    assert link.who_hears_whom == (
        "They will hear you well. You may not hear Gull Tor: their 10 W against your 50 W is 7 dB, "
        "and your home noise costs 4 dB more."
    )
    assert link.weaker == "back"


def test_reasons_that_pull_apart(make_end) -> None:
    you = make_end(power_w=10)
    them = make_end("Marsh End", power_w=25, noise={"category": "city"})
    weak = evaluate(you, them, replace(PATH, loss_db=140.0))
    assert weak.who_hears_whom == (
        "You and Marsh End will hear each other well. They hear you 12 dB less well: "
        "their home noise costs 8 dB more, and your 10 W against their 25 W is 4 dB."
    )
    stronger = evaluate(replace(you, power_w=25.0), replace(them, power_w=10.0), replace(PATH, loss_db=140.0))
    assert stronger.who_hears_whom.endswith(
        "their home noise costs 8 dB more, though your 25 W against their 10 W is 4 dB the other way."
    )


def test_alike_both_ways(make_end) -> None:
    link = evaluate(make_end(), make_end("Marsh End"), replace(PATH, loss_db=120.0))
    assert link.who_hears_whom == "You and Marsh End will hear each other well; both directions are alike."


def test_a_beacon_is_heard_and_does_not_answer(make_end) -> None:
    link = evaluate(make_end(), make_end("Hill Beacon", beacon=True), replace(PATH, loss_db=130.0))
    assert link.out is None
    assert link.back is not None
    assert link.pair.chance == pytest.approx(link.back.chance)
    assert link.who_hears_whom == "You will hear Hill Beacon well; Hill Beacon does not answer."
    turned = evaluate(make_end("Hill Beacon", beacon=True), make_end(), replace(PATH, loss_db=130.0))
    assert turned.back is None
    assert turned.weaker == "out"
    with pytest.raises(StationError, match=r"A and B are both receive_only"):
        evaluate(make_end("A", beacon=True), make_end("B", beacon=True), PATH)


def test_pair_stands_on_the_margins_and_the_spread(make_end) -> None:
    spread = Spread(7.0, 5.0, 4.0, 3.0)
    link = evaluate(*hilltop_and_home(make_end), PATH, spread=spread)
    assert link.out is not None
    assert link.back is not None
    margins = (link.out.budget.margin_db, link.back.budget.margin_db)
    expected = pair_chances([margins], spread)
    assert link.pair.chance == pytest.approx(expected.both[0])
    assert link.out.chance == pytest.approx(expected.out[0])
    assert link.out.sigma_db == pytest.approx(math.sqrt(7**2 + 3**2 + 5**2))
    assert link.back.sigma_db == pytest.approx(math.sqrt(7**2 + 3**2 + 4**2))
    assert link.pair.comfortable_chance < link.pair.chance <= min(link.out.chance, link.back.chance)


def test_default_spread_is_that_of_the_table(make_end) -> None:
    assert evaluate(*hilltop_and_home(make_end), PATH).spread == Spread(8.0, 6.0, 6.0, 0.0)
    measured = make_end(noise={"s_reading": "S2"})
    assert evaluate(measured, make_end("Marsh End"), PATH).spread == Spread(8.0, 6.0, 3.0, 0.0)


def test_methods_that_part_are_never_solid_unless_both_are(make_end) -> None:
    ends = hilltop_and_home(make_end)
    agreed = evaluate(*ends, replace(PATH, loss_db=140.0, second_opinion_db=150.0))
    assert (agreed.pair.verdict.word, agreed.methods_part) == ("solid", False)

    parted = evaluate(*ends, replace(PATH, loss_db=140.0, second_opinion_db=175.0))
    assert parted.methods_part
    assert parted.disagreement_db == pytest.approx(35.0)
    assert parted.second is not None
    assert parted.pair.verdict.word == "workable"
    assert parted.second.verdict.word in {"marginal", "unlikely"}
    note = next(note for note in parted.notes if "the methods part" in note)
    assert note == (
        "the methods part by 35 dB: ITU-R P.1812-8 says solid, over 19 in 20; "
        f"Irregular Terrain Model says {parted.second.verdict.text}"
    )

    both = evaluate(*ends, replace(PATH, loss_db=140.0, second_opinion_db=120.0))
    assert (both.pair.verdict.word, both.methods_part) == ("solid", True)


def test_where_methods_part_both_verdicts_stand_together(make_end) -> None:
    ends = hilltop_and_home(make_end)
    agreed = evaluate(*ends, replace(PATH, loss_db=140.0, second_opinion_db=150.0))
    assert agreed.verdict_text == agreed.pair.verdict.text
    parted = evaluate(*ends, replace(PATH, loss_db=140.0, second_opinion_db=195.0))
    assert parted.verdict_text == (
        "workable or unlikely: over 19 in 20 or below 1 in 20 (methods part by 55 dB)"
    )
    both = evaluate(*ends, replace(PATH, loss_db=140.0, second_opinion_db=120.0))
    assert both.verdict_text == "solid: over 19 in 20 (methods part by 20 dB)"


def test_second_opinion_is_the_link_at_its_own_loss(make_end) -> None:
    ends = hilltop_and_home(make_end)
    link = evaluate(*ends, replace(PATH, second_opinion_db=165.0))
    assert link.second is not None
    assert link.second.chance == pytest.approx(evaluate(*ends, replace(PATH, loss_db=165.0)).pair.chance)


def test_time_spread_reaches_the_answer(make_end) -> None:
    ends = hilltop_and_home(make_end)
    steady = evaluate(*ends, replace(PATH, loss_db=185.0))
    lively = evaluate(*ends, replace(PATH, loss_db=185.0, time_losses_db={1: 150, 10: 170, 50: 185, 90: 190}))
    assert lively.pair.chance > steady.pair.chance


def test_reciprocity(make_end) -> None:
    you, them = hilltop_and_home(make_end)
    one, other = evaluate(you, them, PATH), evaluate(them, you, PATH.reversed())
    assert one.pair.chance == pytest.approx(other.pair.chance, abs=1e-12)
    assert one.out is not None
    assert other.back is not None
    assert one.out.budget.level_dbm == pytest.approx(other.back.budget.level_dbm, abs=1e-9)


def test_a_link_carries_exposure_cautions_and_what_was_assumed(make_end) -> None:
    link = evaluate(*hilltop_and_home(make_end), PATH)
    assert [e.station for e in link.exposure] == ["Gull Tor", "Marsh End"]
    text = " ".join(link.cautions)
    for words in ("twice the height of mast plus antenna", "leave the mast standing", "not a safety line"):
        assert words in text
    assert {(a.station, a.what) for a in link.assumed} >= {
        ("Gull Tor", "noise figure"),
        ("Marsh End", "surroundings"),
    }
    assert any("listening" in note for note in link.notes)
    assert any("repeating the call seldom helps" in note for note in link.notes)
    assert link.good_within_deg == pytest.approx(19.4, abs=0.1)  # flat log-periodic, 1 dB


def test_facts_of_practice_in_sight_at_60_km(make_end) -> None:
    # common practice, no source; free space at 60 km and 145 MHz is 111.2 dB (ITU-R P.525)
    you, them = hilltop_and_home(make_end, "fm", 145.0)
    link = evaluate(you, them, PathFacts(145.0, 111.2, in_sight=True))
    assert link.pair.verdict.word == "solid"


def test_facts_of_practice_behind_the_horizon_at_160_km(make_end) -> None:
    # common practice, no source; 172 dB is typical of 2 m at this distance beyond the horizon
    chance = {
        mode: evaluate(*hilltop_and_home(make_end, mode), PATH).pair
        for mode in ("fm", "ssb", "morse", "weak-digital")
    }
    assert chance["fm"].verdict.word != "solid"
    assert chance["fm"].chance < chance["ssb"].chance < chance["morse"].chance < chance["weak-digital"].chance


@pytest.mark.parametrize(
    ("readable", "comfortable", "word", "text"),
    [
        (0.97, 0.90, "solid", "solid, over 19 in 20"),
        (0.97, 0.89, "workable", "workable, over 19 in 20"),
        (0.70, 0.10, "workable", "workable, about 7 in 10"),
        (0.62, 0.10, "marginal", "marginal, about 6 in 10"),
        (0.30, 0.10, "marginal", "marginal, about 3 in 10"),
        (0.695, 0.10, "marginal", "marginal, nearly 7 in 10"),
        (0.28, 0.10, "unlikely", "unlikely, nearly 3 in 10"),
        (0.12, 0.01, "unlikely", "unlikely, about 1 in 10"),
        (0.01, 0.00, "unlikely", "unlikely, below 1 in 20"),
    ],
)
def test_verdict_words_carry_odds(readable: float, comfortable: float, word: str, text: str) -> None:
    found = verdict(readable, comfortable)
    assert (found.word, found.text) == (word, text)


@pytest.mark.parametrize(
    ("chance", "text"),
    [(0.0, "below 1 in 20"), (0.05, "about 1 in 10"), (0.949, "about 9 in 10"), (1.0, "over 19 in 20")],
)
def test_odds(chance: float, text: str) -> None:
    assert odds_text(chance) == text


def station(name: str, *set_ups: dict[str, object]) -> Station:
    return Station.read({"name": name, "place": "invented", "set_ups": list(set_ups)})


def test_table_of_modes_and_bands() -> None:
    you = station("Gull Tor", {"bands": ["2 m", "6 m"], "antenna": {"gain_dbi": 5}}, {"bands": ["23 cm"]})
    them = station("Marsh End", {"bands": ["2 m"], "modes": ["ssb", "fm"]}, {"bands": ["6 m"]})
    asked: list[PathQuestion] = []

    def ask_path(question: PathQuestion) -> PathFacts:
        asked.append(question)
        return PathFacts(question.frequency_mhz, 140.0 + question.frequency_mhz / 10)

    rows = evaluate_modes(you, them, ask_path)
    assert [(row.band, row.mode) for row in rows] == [
        (band, mode) for band in ("6 m", "2 m", "23 cm") for mode in MODES
    ]
    by = {(row.band, row.mode): row for row in rows}
    assert all(row.reason == "no 23 cm antenna at Marsh End" for row in rows if row.band == "23 cm")
    assert by["2 m", "morse"].reason == "no Morse on 2 m at Marsh End"
    assert by["2 m", "morse"].pair is None
    assert by["6 m", "morse"].pair is not None
    assert len(asked) == len(set(asked)) == 4  # two bands, two polarizations


def test_a_row_equals_its_link(make_end) -> None:
    you, them = (
        station("Gull Tor", {"bands": ["2 m"], "power_w": 10}),
        station("Marsh End", {"bands": ["2 m"]}),
    )
    path = PathFacts(
        144.3, 165.0, time_losses_db={1: 150, 10: 158, 50: 165, 90: 171}, second_opinion_db=181.0
    )
    from pathprofile.link import End, equip

    ends = equip(you, 144.3, "morse"), equip(them, 144.3, "morse")
    assert isinstance(ends[0], End)
    assert isinstance(ends[1], End)
    link = evaluate(ends[0], ends[1], path)
    (row,) = evaluate_modes(you, them, lambda _: path, bands=[144.3], modes=["morse"])
    assert row.pair == link.pair
    assert link.out is not None
    assert row.out_margin_db == link.out.budget.margin_db
    assert row.out_chance == link.out.chance


def test_bands_worth_a_row() -> None:
    nothing = station("A")
    assert common_bands(nothing, nothing) == ("6 m", "2 m", "1.25 m", "70 cm", "23 cm")
    assert common_bands(nothing, station("B", {"bands": [433, 160.0, 50.1]})) == ("6 m", "160 MHz", "70 cm")
