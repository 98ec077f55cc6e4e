"""What cannot be fired at all, before anything is laid out: each with a code and a sentence to act on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.kiln_work.kilns import LeftOut
from scheduling.engine.kiln_work.laying import ShelfKind
from scheduling.engine.kiln_work.stood import Stood, stood_in
from scheduling.engine.packing import Footprint
from scheduling.engine.wording import at
from scheduling.engine.world import World
from studios.said import said, several_said
from studios.thermal import Piece, Shape, ThermalError


def unfireable(asked: WorkAsked) -> WorkRefused | None:
    """What is wrong with the pieces themselves, whatever kilns there are."""
    if not asked.pieces:
        return WorkRefused(
            code="no-pieces", sentence=said("There are no pieces to fire. Say how many of which size.")
        )
    return _ill_matched(asked) or _without_room_in_moulds(asked)


def nothing_left() -> WorkRefused:
    """All pieces are through."""
    return WorkRefused(
        code="nothing-left", sentence=said("Nothing of it is left to be fired or worked cold.")
    )


def _ill_matched(asked: WorkAsked) -> WorkRefused | None:
    """Glasses that would crack in one piece, or a thickness that no glass has."""
    try:
        Piece(
            glass=asked.glass,
            shape=Shape.PLATE_ON_SHELF,
            thickness_mm=asked.thickness_mm,
            fused_with=asked.mixed_with,
        )
    except ThermalError as error:
        mixed = error.code == "mixed-expansion"
        return WorkRefused(code="mixed-expansions" if mixed else error.code, sentence=error.said)
    return None


def _without_room_in_moulds(asked: WorkAsked) -> WorkRefused | None:
    if not any(firing.in_moulds for firing in asked.route.firings):
        return None
    for mould in (piece.mould for piece in asked.pieces):
        if mould is not None and not mould.count * mould.holds:
            return WorkRefused(
                code="mould-empty",
                sentence=said(
                    "The mould “{mould}” holds no piece: enter how many there are and how many each holds, "
                    "or choose another.",
                    mould=mould.name,
                ),
            )
    return None


def no_kiln(left_out: Sequence[LeftOut]) -> WorkRefused:
    """No kiln is left; those left out are named, and why."""
    if not left_out:
        return WorkRefused(code="no-kiln", sentence=said("No kiln is left that could be asked."))
    causes = several_said((said("{kiln}: {why}", kiln=each.name, why=each.why) for each in left_out), "; ")
    return WorkRefused(code="no-kiln", sentence=said("No kiln can fire this. {causes}.", causes=causes))


def too_large(asked: WorkAsked, kinds: Sequence[ShelfKind]) -> WorkRefused | None:
    """A piece, or its mould, for which no shelf is large enough."""
    for step, firing in enumerate(asked.route.firings):
        left = [n for n, piece in enumerate(asked.pieces) if piece.first <= step]
        for one in stood_in(firing, asked.pieces, left):
            if not any(kind.shelf.holds(one.footprint) for kind in kinds):
                return _larger_than_every_shelf(one, kinds)
    return None


def _larger_than_every_shelf(one: Stood, kinds: Iterable[ShelfKind]) -> WorkRefused:
    length, width = max((kind.shelf.usable_mm for kind in kinds), key=lambda sides: sides[0] * sides[1])
    what = said("A mould of {size}", size=_size(one.footprint))
    if one.mould is None:
        what = said("A piece of {size}", size=_size(one.footprint))
    return WorkRefused(
        code="piece-too-large",
        sentence=said(
            "{what} fits no shelf: the largest has room for {length} × {width} mm within its margin.",
            what=what,
            length=length,
            width=width,
        ),
    )


def _size(footprint: Footprint) -> str:
    if footprint.round:
        return said("Ø {length} mm", length=footprint.length_mm)
    return said("{length} × {width} mm", length=footprint.length_mm, width=footprint.width_mm)


def too_late(due: int, earliest: WorkPlanned, world: World) -> WorkRefused:
    """The date cannot be kept, or no plan was found that keeps it; the earliest there is."""
    last = max(earliest.ready_at, key=earliest.ready_at.__getitem__)
    studio = world.studios[last]
    facts = {"due": at(due, studio), "earliest": at(earliest.ready, studio)}
    if earliest.proven:
        sentence = said("It cannot be ready by {due}. The earliest is {earliest}.", **facts)
    elif earliest.bound > due:
        sentence = said("It cannot be ready by {due}. The earliest that was found is {earliest}.", **facts)
    else:
        sentence = said(
            "No plan was found that is ready by {due}; the earliest is {earliest}. Fewer pieces or another "
            "kiln may help.",
            **facts,
        )
    return WorkRefused(code="too-late", sentence=sentence, earliest=earliest.ready)
