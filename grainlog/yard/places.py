"""Where slabs lie: shed, stack and layer, what lies above one, and what moving one does to the others.

Layers are counted from the bottom, so a slab keeps its layer when something is laid on top. Where one is taken out from
below, those above come down; where a stack is moved slab by slab, its order is reversed. A layer may hold several slabs
side by side.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, func, select

from grainlog.yard.database import Database
from grainlog.yard.errors import LifeRefused
from grainlog.yard.filing import tidy_text
from grainlog.yard.life_changes import record_change, require_present, require_slab
from grainlog.yard.life_state import place_key, read_life
from grainlog.yard.life_tables import changes, slab_life
from grainlog.yard.tags import tag_of

#: The changes that say where a slab lies.
MOVES = ("laid down", "restacked", "taken out", "came down")


@dataclass(frozen=True)
class Lying:
    """A slab in a stack: its number and its layer from the bottom; None where nobody said which."""

    number: int
    layer: int | None


class Places:
    """The places of one yard's slabs."""

    def __init__(self, database: Database):
        self._database = database

    def stack(self, shed: str | None, stack: str | None) -> list[Lying]:
        """What lies in a stack, the lowest first; slabs without a layer last. Raises LifeRefused for an unknown one."""
        with self._database.reading() as connection:
            lying = _lying(connection, place_key(tidy_text(shed), tidy_text(stack)))
            if not lying:
                raise LifeRefused(_unknown(connection, shed, stack))
        return lying

    def stacks(self) -> list[tuple[str | None, str | None, int]]:
        """Every place that holds slabs: shed, stack and how many."""
        query = (
            select(slab_life.c.shed, slab_life.c.stack, func.count())
            .where(slab_life.c.place_folded != "")
            .group_by(slab_life.c.place_folded)
            .order_by(slab_life.c.place_folded)
        )
        with self._database.reading() as connection:
            return [(shed, stack, count) for shed, stack, count in connection.execute(query)]

    def above(self, number: int) -> list[Lying] | None:
        """What has to be lifted off to reach a slab, the topmost first; None where its layer is not known.

        Slabs of the same stack whose layer nobody said are counted in, last: they may lie above.
        Raises NoSuchSlab.
        """
        with self._database.reading() as connection:
            require_slab(connection, number)
            life = read_life(connection, number)
            if life.layer is None:
                return None
            lying = _lying(connection, place_key(life.shed, life.stack))
        known = [other for other in lying if other.layer is not None and other.layer > life.layer]
        return known[::-1] + [other for other in lying if other.layer is None]

    def lay(
        self,
        numbers: Sequence[int],
        shed: str | None,
        stack: str | None = None,
        layer: int | None = None,
        beside: bool = False,
        day: date | None = None,
        note: str = "",
    ) -> list[Lying]:
        """Lay slabs down, one after the other, each on top of the stack unless `layer` says where the first one lies.

        beside : they lie side by side in one layer. Without a stack they lie in the shed with no order.
        Raises LifeRefused, NoSuchSlab; nothing is moved then.
        """  # fmt: skip
        shed, stack, day = tidy_text(shed), tidy_text(stack), day or date.today()
        if shed is None and stack is None:
            raise LifeRefused("Say where it lies: a shed, a stack, or both.")
        if layer is not None and stack is None:
            raise LifeRefused("A layer is one of a stack; name the stack too.")
        if layer is not None and layer < 1:
            raise LifeRefused("Layers are counted from the bottom, and the lowest is 1.")
        if len(set(numbers)) < len(numbers):
            raise LifeRefused("A slab can lie in one place only; name each slab once.")
        laid = []
        with self._database.writing() as connection:
            for number in numbers:
                require_slab(connection, number)
                require_present(number, read_life(connection, number))
                leave_stack(connection, number, day)
            place = place_key(shed, stack)
            top = max((other.layer for other in _lying(connection, place) if other.layer is not None), default=0)
            at = layer if layer is not None else top + 1
            if at > top + 1:
                raise LifeRefused(f"That stack has {top} layers so far, so layer {at} would hang in the air.")
            for number in numbers:
                taken = [other.number for other in _lying(connection, place) if other.layer == at]
                if stack is not None and taken and not beside:
                    raise LifeRefused(
                        f"Layer {at} of that stack is slab {' and '.join(map(tag_of, taken))}; give another layer, or "
                        "say that it lies beside (--beside)."
                    )
                value = {"shed": shed, "stack": stack, "layer": at if stack is not None else None}
                _move(connection, number, day, "laid down", value, note)
                laid.append(Lying(number, value["layer"]))
                at += 0 if beside else 1
        return laid

    def restack(
        self,
        shed: str | None,
        stack: str | None,
        to_shed: str | None = None,
        to_stack: str | None = None,
        day: date | None = None,
        note: str = "",
    ) -> list[Lying]:
        """Move a whole stack layer by layer, which turns its order upside down; returns it as it lies then.

        to_shed, to_stack : where to; left out, it is built again where it was. On a stack that is there already the
        slabs come on top. Slabs without a layer move along without one. Raises LifeRefused for an unknown stack.
        """  # fmt: skip
        shed, stack, day = tidy_text(shed), tidy_text(stack), day or date.today()
        target_shed = tidy_text(to_shed) or shed
        target_stack = tidy_text(to_stack) or stack
        source, target = place_key(shed, stack), place_key(target_shed, target_stack)
        if stack is None or target_stack is None:
            raise LifeRefused("Name the stack that was moved.")
        with self._database.writing() as connection:
            lying = _lying(connection, source)
            if not lying:
                raise LifeRefused(_unknown(connection, shed, stack))
            there = [] if target == source else _lying(connection, target)
            base = max((other.layer for other in there if other.layer is not None), default=0)
            layers = sorted({other.layer for other in lying if other.layer is not None}, reverse=True)
            new = {layer: base + place for place, layer in enumerate(layers, 1)}
            for other in lying:
                layer = None if other.layer is None else new[other.layer]
                value = {"shed": target_shed, "stack": target_stack, "layer": layer}
                _move(connection, other.number, day, "restacked", value, note)
            return _lying(connection, target)


def leave_stack(connection: Connection, number: int, day: date) -> None:
    """Let what lies above a slab come down by a layer, as the slab is taken out; the slab itself is the caller's."""
    life = read_life(connection, number)
    if life.layer is None:
        return
    others = [other for other in _lying(connection, place_key(life.shed, life.stack)) if other.number != number]
    if any(other.layer == life.layer for other in others):
        return  # something beside it still holds the layer
    _move(connection, number, day, "taken out", {"shed": None, "stack": None, "layer": None})
    for other in others:
        if other.layer is not None and other.layer > life.layer:
            note = f"slab {tag_of(number)} was taken out below"
            _move(connection, other.number, day, "came down", {"layer": other.layer - 1}, note)


def _move(
    connection: Connection, number: int, day: date, what: str, value: dict[str, str | int | None], note: str = ""
) -> None:
    query = select(func.max(changes.c.day)).where(changes.c.slab_number == number, changes.c.what.in_(MOVES))
    last = connection.execute(query).scalar()
    # Layers are worked out from how the stack lies now, so moves are told in their order.
    if last is not None and day.isoformat() < last:
        raise LifeRefused(
            f"Slab {tag_of(number)} was moved on {last}, after {day}; tell moves in the order of their days."
        )
    record_change(connection, number, day, what, value, note)


def _lying(connection: Connection, place: str) -> list[Lying]:
    query = select(slab_life.c.slab_number, slab_life.c.layer).where(slab_life.c.place_folded == place)
    ordered = query.order_by(slab_life.c.layer.nulls_last(), slab_life.c.slab_number)
    return [Lying(number, layer) for number, layer in connection.execute(ordered)]


def _unknown(connection: Connection, shed: str | None, stack: str | None) -> str:
    wanted = (
        " of ".join(name for name in (stack and f"stack {stack}", shed and f"shed {shed}") if name) or "nameless place"
    )
    known = connection.execute(
        select(slab_life.c.shed, slab_life.c.stack).where(slab_life.c.place_folded != "").distinct().limit(6)
    )
    names = ", ".join(" / ".join(name for name in row if name) for row in known)
    return f"Nothing lies in {wanted}; " + (f"places with slabs are {names}." if names else "no slab has a place yet.")
