"""Claims entered as they would have been booked: lit as late as the heat allows, if a supply gives enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import count

from scheduling.engine.records import (
    Apparatus,
    Duty,
    FiringRecord,
    Lot,
    StudioRecord,
    SupplyRecord,
    Taken,
    Use,
)
from studios.thermal import Recipe
from tests.engine.reference.minutes import Minutes, Stretch
from tests.engine.reference.parts import HOT, drawn
from tests.engine.reference.town import GLASSES, POLICY, SUPPLIES, piece
from tests.engine.reference.warmth import after_a_gap, from_cold, program, record_at


class Ledger:
    """What is claimed so far. What does not fit any more is left out."""

    def __init__(
        self,
        *,
        studios: Mapping[int, StudioRecord],
        limits: Mapping[int, float],
        first: int,
        last: int,
    ) -> None:
        self.studios, self.limits = studios, limits
        self.minutes = Minutes(first=first, last=last)
        self.taken: dict[int, tuple[Taken, ...]] = {}
        self.uses: dict[int, list[Use]] = {key: [] for key in limits}
        self.totals = {key: self.minutes.added_up([]) for key in limits}
        self._keys = count(100)

    def supplies(self) -> dict[int, SupplyRecord]:
        """The supplies with all that draws on them."""
        return {
            key: SupplyRecord(
                id=key, name=SUPPLIES[key][0], unit=SUPPLIES[key][1], limit=limit, uses=tuple(self.uses[key])
            )
            for key, limit in self.limits.items()
        }

    def use(self, supply_id: int, stretch: Stretch, amount: float, key: int | None) -> bool:
        """Enter a draw, if the supply gives that much beside the others."""
        more = self.totals[supply_id] + self.minutes.added_up([(stretch, amount)])
        if more.max() > self.limits[supply_id]:
            return False
        self.totals[supply_id] = more
        self.uses[supply_id].append(Use(span=stretch, amount=amount, held_by="other", occupancy_id=key))
        return True

    def _enter(self, apparatus: Apparatus, claim: Taken, draws: Stretch | None) -> None:
        """Enter a claim after the last one, with all its draws or not at all."""
        others = self.taken.get(apparatus.id, ())
        if any(
            o.span[1] > claim.span[0] and (0 in {o.place, claim.place} or o.place == claim.place)
            for o in others
        ):
            return
        entered = {key: (list(self.uses[key]), self.totals[key]) for key, _ in apparatus.draws}
        for each in drawn(apparatus, *draws) if draws is not None else ():
            if not self.use(each.supply_id, each.stretch, each.amount, claim.occupancy_id):
                for key, (uses, total) in entered.items():
                    self.uses[key], self.totals[key] = uses, total
                return
        self.taken[apparatus.id] = tuple(sorted((*others, claim), key=lambda t: (t.span, t.place)))

    def outage(self, apparatus: Apparatus, stretch: Stretch) -> None:
        """Out of use, every place of it."""
        claim = Taken(
            apparatus_id=apparatus.id, place=0, span=stretch, core=stretch, held_by="repair", outage=True
        )
        self._enter(apparatus, claim, None)

    def session(self, apparatus: Apparatus, core: Stretch, place: int, *, kept_hot: bool = False) -> None:
        """A class that works there, or a load in a kiln; kept hot since the class before, where it may be."""
        lead = self._lead(apparatus, core[0]) if apparatus.kind in HOT else 0
        if lead is None:
            return
        before = self.taken.get(apparatus.id, ())
        if kept_hot and before and not before[-1].outage:
            lead = core[0] - before[-1].core[1]
        span = (core[0] - lead, core[1])
        claim = Taken(
            apparatus_id=apparatus.id,
            place=place,
            span=span,
            core=core,
            held_by="other",
            occupancy_id=next(self._keys),
        )
        self._enter(apparatus, claim, span)

    def _lead(self, apparatus: Apparatus, works_at: int) -> int | None:
        body, before = record_at(apparatus, works_at), self.taken.get(apparatus.id, ())
        if body is None or apparatus.working_c is None:
            return None
        if not before or before[-1].outage:
            return from_cold(body, apparatus.working_c)
        return after_a_gap(body, apparatus.working_c, works_at - before[-1].core[1])

    def firing(
        self, apparatus: Apparatus, loads: Sequence[tuple[Stretch, int, int, float]], *, early_min: int
    ) -> None:
        """A firing of hot pieces; at hold somewhat early where its first load was taken out again."""
        lots = tuple(
            Lot(
                piece=piece(GLASSES[glass], thickness_mm),
                footprint_cm2=room,
                in_from=hours[0],
                in_until=hours[1],
                held_by="other",
            )
            for hours, glass, room, thickness_mm in loads
        )
        ready, last = min(lot.in_from for lot in lots) - early_min, max(lot.in_until for lot in lots)
        body = record_at(apparatus, ready)
        if body is None:
            return
        pieces = tuple(dict.fromkeys(lot.piece for lot in lots))
        plan = program(Recipe.ANNEAL, pieces, body, POLICY, apparatus.controller_segments)
        if plan is None:
            return
        lit, end = ready - plan.heat_up_min, self._unloaded(apparatus, last + plan.tail_min)
        key = next(self._keys)
        claim = Taken(
            apparatus_id=apparatus.id,
            place=1,
            span=(lit, end),
            core=(lit, end),
            held_by="other",
            occupancy_id=key,
            firing=FiringRecord(id=key, recipe=Recipe.ANNEAL, lots=lots, ready=ready, last_in=last),
        )
        self._enter(apparatus, claim, (lit, last + plan.switching_min))

    def _unloaded(self, apparatus: Apparatus, cool: int) -> int:
        """When it is empty again: the first hours in which it can be unloaded, or when it is cool."""
        hours = self.studios[apparatus.studio_id].staffed[Duty.UNLOAD]
        fits = (
            max(cool, opens) for opens, closes in hours if max(cool, opens) + apparatus.clear_min <= closes
        )
        return next(fits, cool) + apparatus.clear_min
