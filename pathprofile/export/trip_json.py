"""Rankings and comparisons as JSON: versioned, unit-suffixed keys, never NaN."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from pathprofile.trip.answer import PairAnswer
    from pathprofile.trip.cells import CellPoint
    from pathprofile.trip.comparing import Comparison
    from pathprofile.trip.inquiries import Inquiry
    from pathprofile.trip.ranking import Ranking
    from pathprofile.trip.relays import Relay

__all__ = ["answer_row", "comparison_document", "ranking_document"]


def ranking_document(ranking: Ranking, relays: Sequence[Relay], *, date: dt.date) -> dict[str, Any]:
    """Ranking with its rows in order, relays and questions; ``schema`` "pathprofile.rank/1"."""
    return {
        "schema": "pathprofile.rank/1",
        "of": ranking.of,
        "date": date.isoformat(),
        "rows": [answer_row(row) for row in ranking.rows],
        "relays": [_relay(relay) for relay in relays],
        "inquiries": [_inquiry(inquiry) for inquiry in ranking.inquiries],
    }


def comparison_document(found: Comparison, relays: Sequence[Relay], *, date: dt.date) -> dict[str, Any]:
    """Comparison with its matrix and scores; ``schema`` "pathprofile.compare/1"."""
    return {
        "schema": "pathprofile.compare/1",
        "date": date.isoformat(),
        "pick": found.pick,
        "sentence": found.sentence,
        "sites": list(found.sites),
        "stations": list(found.stations),
        "wanted_weight": found.wanted_weight,
        "matrix": [[answer_row(answer) for answer in row] for row in found.matrix],
        "scores": [
            {
                "site": score.site,
                "reached": list(score.reached),
                "reached_weight": score.reached_weight,
                "worst_chance": score.worst_chance,
                "only_here": list(score.only_here),
                "expected_weight": score.expected_weight,
                "answered": score.answered,
                "doubtful": list(score.doubtful),
                "doubtful_weight": score.doubtful_weight,
            }
            for score in found.scores
        ],
        "notes": list(found.notes),
        "relays": [_relay(relay) for relay in relays],
        "inquiries": [_inquiry(inquiry) for inquiry in found.inquiries],
    }


def answer_row(row: PairAnswer) -> dict[str, Any]:
    """One pair as plain values."""
    ways = row.directions
    return {
        "from": row.you,
        "to": row.them,
        "verdict": row.verdict.word if row.verdict else None,
        "odds": row.verdict_text or None,
        "chance": row.pair.chance if row.pair else None,
        "comfortable_chance": row.pair.comfortable_chance if row.pair else None,
        "mode": row.mode.mode if row.mode else None,
        "frequency_mhz": row.mode.frequency_mhz if row.mode else None,
        "modes": [
            {
                "mode": odds.wanted.mode,
                "frequency_mhz": odds.wanted.frequency_mhz,
                "chance": odds.pair.chance,
                "verdict": odds.pair.verdict.word,
            }
            for odds in row.modes
        ],
        "distance_m": ways.distance_m if ways else None,
        "azimuth_deg": ways.azimuth_deg if ways else None,
        "magnetic_azimuth_deg": ways.magnetic_azimuth_deg if ways else None,
        "back_azimuth_deg": ways.back_azimuth_deg if ways else None,
        "magnetic_back_azimuth_deg": ways.back_magnetic_azimuth_deg if ways else None,
        "span": ways.span.text if ways and ways.span else None,
        "nearest_m": ways.span.nearest_m if ways and ways.span else None,
        "farthest_m": ways.span.farthest_m if ways and ways.span else None,
        "first_azimuth_deg": ways.span.first_azimuth_deg if ways and ways.span else None,
        "last_azimuth_deg": ways.span.last_azimuth_deg if ways and ways.span else None,
        "weaker": row.weaker,
        "out_margin_db": row.out_margin_db,
        "back_margin_db": row.back_margin_db,
        "who_hears_whom": row.who_hears_whom or None,
        "limits": row.limits or None,
        "methods_part": row.methods_part,
        "methods_part_by_db": row.apart_db if row.methods_part else None,
        "second_opinion": None
        if row.second is None
        else {"chance": row.second.chance, "verdict": row.second.verdict.word},
        "cell": None
        if row.cell is None
        else {
            "points": int(row.cell.chance.size),
            "worst": _point(row.cell.worst),
            "best": _point(row.cell.best),
            "thirds": [
                {
                    "from_m": third.from_m,
                    "to_m": third.to_m,
                    "chance": third.pair.chance,
                    "verdict": third.pair.verdict.word,
                }
                for third in (row.cell.lowest, row.cell.middle, row.cell.highest)
            ],
        },
        "notes": list(row.notes),
        "reason": row.reason or None,
        "picture": row.picture or None,
    }


def _point(point: CellPoint) -> dict[str, float]:
    return {
        "latitude_deg": point.latitude_deg,
        "longitude_deg": point.longitude_deg,
        "ground_m": point.ground_m,
        "chance": point.chance,
    }


def _relay(relay: Relay) -> dict[str, Any]:
    return {
        "via": relay.via,
        "to": relay.to,
        "chance": relay.pair.chance,
        "direct_chance": relay.direct_chance,
        "weaker_hop": relay.weaker_hop,
        "sentence": relay.sentence,
    }


def _inquiry(inquiry: Inquiry) -> dict[str, Any]:
    return {"station": inquiry.station, "about": inquiry.about, "text": inquiry.text}
