"""What a recipe may name: what the house has already, and what is new with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from recipes.dyestuff import add_auxiliary, add_dye
from recipes.lots.bench import Bench, set_bench
from recipes.models import Auxiliary, Base, Colourway, Dye

Role, Form = Auxiliary.Role, Auxiliary.Form

#: What a new name may be: the word in a list, and what it is in the store (None is a dye).
IT_IS: Mapping[str, tuple[str, str] | None] = {
    "dye": None,
    "acid, liquid": (Role.ACID, Form.LIQUID),
    "acid, powder": (Role.ACID, Form.POWDER),
    "salt": (Role.SALT, Form.POWDER),
    "other, liquid": (Role.OTHER, Form.LIQUID),
    "other, powder": (Role.OTHER, Form.POWDER),
}
WATER = "water"
NEW_KINDS = ", ".join(f"“{words}”" for words in IT_IS)


class NotKnown(LookupError):
    """A name that the store does not have, and nobody has said what it is."""


@dataclass(slots=True)
class Things:
    """Dyes, auxiliaries, bases and colourways by their names in small letters; new ones stand among them unsaved."""

    dyes: dict[str, Dye] = field(default_factory=dict)
    auxiliaries: dict[str, Auxiliary] = field(default_factory=dict)
    bases: dict[str, Base] = field(default_factory=dict)
    colourways: dict[str, Colourway] = field(default_factory=dict)
    _bench: Bench | None = None

    @property
    def bench(self) -> Bench:
        """What lines are read with; set when it is first wanted."""
        if self._bench is None:
            self._bench = set_bench()
        return self._bench

    @classmethod
    def now(cls) -> Things:
        """What the house has at this moment. A fixed number of queries."""
        colourways = list(Colourway.objects.all())
        return cls(
            dyes={each.name.casefold(): each for each in Dye.objects.select_related("item", "stock_item")},
            auxiliaries={
                each.name.casefold(): each for each in Auxiliary.objects.select_related("item", "lot")
            },
            bases={each.name.casefold(): each for each in Base.objects.prefetch_related("fibres")},
            # A name goes before a code that happens to be spelled like it.
            colourways={each.code.casefold(): each for each in colourways}
            | {each.name.casefold(): each for each in colourways if each.name},
        )

    def called(self, name: str, it_is: str) -> Dye | Auxiliary:
        """The dye or auxiliary of a name; a new one where `it_is` says what it would be. Raises NotKnown."""
        key = name.casefold()
        known: Dye | Auxiliary | None = self.dyes.get(key)
        if known is None or (it_is and it_is != "dye" and key in self.auxiliaries):
            known = self.auxiliaries.get(key) or known
        if known is not None:
            return known
        if it_is not in IT_IS:
            raise NotKnown(name)
        what = IT_IS[it_is]
        if what is None:
            return self.dyes.setdefault(key, Dye(name=name))
        role, form = what
        return self.auxiliaries.setdefault(key, Auxiliary(name=name, role=role, form=form))

    @property
    def new(self) -> list[Dye | Auxiliary]:
        """What is not in the store yet, in the order it was named."""
        things: list[Dye | Auxiliary] = [*self.dyes.values(), *self.auxiliaries.values()]
        return [each for each in things if each.pk is None]

    def keep_new(self) -> None:
        """Put what is new into the store."""
        for key, dye in self.dyes.items():
            if dye.pk is None:
                self.dyes[key] = add_dye(name=dye.name)
        for key, each in self.auxiliaries.items():
            if each.pk is None:
                self.auxiliaries[key] = add_auxiliary(name=each.name, role=each.role, form=each.form)
