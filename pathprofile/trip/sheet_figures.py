"""What a phone needs to add up margins again: for each mode on the frequency, margins by mast height.

Everything here is computed by the library; the phone adds decibels and integrates the same chance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal

import numpy as np

from pathprofile.contact import path_facts
from pathprofile.link.antennas import polarization_loss
from pathprofile.link.chance import Spread
from pathprofile.link.ends import NoFit, equip_pair
from pathprofile.link.evaluate import evaluate
from pathprofile.reach import assess
from pathprofile.station.catalogue import MODES, Polarization

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pathprofile.contact import Contact
    from pathprofile.link.ends import End
    from pathprofile.link.evaluate import Link
    from pathprofile.link.path import PathFacts

__all__ = ["AtHeight", "Setting", "mast_heights_m", "settings_of"]

NoiseKind = Literal["outside", "floor", "rise"]
_STEP_M = 0.5
_FINE_TO_M = 12.0
_LOWEST_M = 1.0
_LIMIT_M = 10.0
"""Push-up mast where no limit is stated (common practice)."""


@dataclass(frozen=True, slots=True)
class AtHeight:
    """Both margins with the own antenna at one height, all else as planned.

    Attributes
    ----------
    height_m : float
    out_margin_db, back_margin_db : float or None
        You → them, them → you, over just readable copy [dB].
    disagreement_db : float or None
        Second opinion less best estimate [dB].
    vertical_db, horizontal_db : float
        What turning to that polarization costs against the planned one [dB].
    time_losses_db : tuple of float
        Loss not exceeded at each of ``Setting.time_percents`` [dB].
    """

    height_m: float
    out_margin_db: float | None
    back_margin_db: float | None
    disagreement_db: float | None
    vertical_db: float
    horizontal_db: float
    time_losses_db: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """One contact in one mode: the terms that can be altered on the spot, and margins by mast height.

    Attributes
    ----------
    noise_kind : {"outside", "floor", "rise"}
        How the own noise is known; only noise from outside is lowered by the loss of a line.
    outside_db : float
        Own external noise figure, where ``noise_kind`` is "outside" [dB].
    your_noise_dbm, their_noise_dbm : float or None
        At the receiver input.
    shared_db, out_db, back_db : float
        Standard deviations.
    time_percents : tuple of float
        Shares of the year for which the losses of each height stand [%].
    heights : tuple of AtHeight
        By height; the planned one is among them.
    """

    mode: str
    label: str
    polarization: Polarization
    power_w: float
    line_loss_db: float
    noise_figure_db: float
    noise_kind: NoiseKind
    outside_db: float
    your_noise_dbm: float | None
    their_noise_dbm: float | None
    readable_snr_db: float
    comfortable_snr_db: float
    fm_receiver: bool
    height_m: float
    shared_db: float
    out_db: float
    back_db: float
    time_percents: tuple[float, ...]
    heights: tuple[AtHeight, ...]
    link: Link

    @property
    def time_deviates(self) -> tuple[float, ...]:
        """Normal deviates of ``time_percents``."""
        return tuple(NormalDist().inv_cdf(percent / 100.0) for percent in self.time_percents)


def mast_heights_m(contacts: Sequence[Contact]) -> tuple[float, ...]:
    """Heights offered for the own antenna: to the lowest limit of the contacts, or 10 m (common practice)."""
    limits = [end.max_height_m for contact in contacts if (end := contact.link.you).max_height_m is not None]
    planned = [contact.link.you.height_m for contact in contacts]
    top_m = max(min(limits, default=_LIMIT_M), *planned)
    fine = np.arange(_LOWEST_M, min(top_m, _FINE_TO_M) + 1e-9, _STEP_M)
    coarse = np.geomspace(_FINE_TO_M, top_m, 12)[1:] if top_m > _FINE_TO_M else np.array([])
    return tuple(sorted({round(float(height), 2) for height in (*fine, *coarse, *planned)}))


def settings_of(contact: Contact, heights_m: Sequence[float]) -> tuple[Setting, ...]:
    """Every mode that both stations have on the contact's frequency, the planned one first.

    Parameters
    ----------
    contact : Contact
    heights_m : sequence of float
        Own antenna heights to assess [m].

    Returns
    -------
    tuple of Setting
    """
    link = contact.link
    found = [_setting(contact, link.you, link.them, heights_m)]
    for mode in MODES:
        if mode == link.mode:
            continue
        you, them = equip_pair(
            contact.you.station,
            contact.them.station,
            link.frequency_mhz,
            mode,
            unstated_surroundings=(contact.you.unstated, contact.them.unstated),
        )
        if not (isinstance(you, NoFit) or isinstance(them, NoFit)):
            found.append(_setting(contact, you, them, heights_m))
    return tuple(found)


def _setting(contact: Contact, you: End, them: End, heights_m: Sequence[float]) -> Setting:
    planned = contact.link
    spread = Spread(
        planned.spread.path_db, them.noise.sigma_db, you.noise.sigma_db, planned.spread.location_db
    )
    link = evaluate(you, them, _facts(contact, you, them, you.height_m), spread=spread)
    rows = []
    percents: tuple[float, ...] = ()
    for height_m in sorted({*heights_m, you.height_m}):
        facts = _facts(contact, you, them, height_m)
        at = evaluate(replace(you, height_m=height_m), them, facts, spread=spread)
        losses = {**facts.time_losses_db}
        losses.setdefault(50.0, facts.loss_db)
        percents = tuple(sorted(losses))
        costs = [
            polarization_loss(turned, them.polarization, in_sight=facts.in_sight).loss_db
            for turned in ("vertical", "horizontal", you.polarization)
        ]
        rows.append(
            AtHeight(
                height_m,
                None if at.out is None else at.out.budget.margin_db,
                None if at.back is None else at.back.budget.margin_db,
                facts.disagreement_db,
                costs[0] - costs[2],
                costs[1] - costs[2],
                tuple(losses[percent] for percent in percents),
            )
        )
    noise, mode = you.noise, MODES[you.mode]
    return Setting(
        mode=you.mode,
        label=mode.label,
        polarization=you.polarization,
        power_w=you.power_w,
        line_loss_db=you.line_loss_db,
        noise_figure_db=you.noise_figure_db,
        noise_kind="floor"
        if noise.density_dbm_hz is not None
        else "rise"
        if noise.rise_db is not None
        else "outside",
        outside_db=noise.external.figure_db if noise.external is not None else 0.0,
        your_noise_dbm=None if link.back is None else link.back.budget.noise_dbm,
        their_noise_dbm=None if link.out is None else link.out.budget.noise_dbm,
        readable_snr_db=mode.readable_snr_db,
        comfortable_snr_db=mode.comfortable_snr_db,
        fm_receiver=mode.fm_receiver,
        height_m=you.height_m,
        shared_db=spread.shared_db,
        out_db=spread.out_db,
        back_db=spread.back_db,
        time_percents=percents,
        heights=tuple(rows),
        link=link,
    )


def _facts(contact: Contact, you: End, them: End, height_m: float) -> PathFacts:
    """Path of the contact as found, or assessed again where height or polarization differ."""
    reach = contact.reach
    polarization = "horizontal" if you.polarization == "horizontal" else "vertical"
    if (
        math.isclose(height_m, reach.from_end.antenna_agl_m)
        and math.isclose(them.height_m, reach.to_end.antenna_agl_m)
        and polarization == reach.polarization
    ):
        return path_facts(reach)
    return path_facts(
        assess(
            reach.survey,
            frequency_mhz=reach.frequency_mhz,
            from_antenna_agl_m=height_m,
            to_antenna_agl_m=them.height_m,
            polarization=polarization,
            atmosphere=reach.atmosphere,
            surroundings=reach.surroundings,
            deciding_only=True,
        )
    )
