"""One box for everything in the house that has a code or a name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from urllib.parse import quote

from django.db.models import Case, F, Q, Value, When
from django.urls import reverse
from django.utils import timezone

from dyehouse.ledger.models import Place
from dyehouse.studio.codes import tidy
from dyehouse.studio.models import User
from recipes.lots.models import DyeLot, Pot
from recipes.models import Base, Colourway, Dye, Jar, MillLot, Mix
from recipes.words import one_line

EACH_SHOWN = 12
SHORTEST = 2


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing that fits: its kind in a word, how it is called, and where its page is."""

    kind: str
    title: str
    detail: str
    address: str
    is_code: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """What fits the words, codes first."""

    words: str
    hits: list[Hit] = field(default_factory=list)
    too_short: bool = False

    @property
    def only(self) -> Hit | None:
        """The one thing meant, when a whole code was typed or nothing else fits."""
        codes = [hit for hit in self.hits if hit.is_code]
        if codes:
            return codes[0]
        return self.hits[0] if len(self.hits) == 1 else None


# What rooms above the shelf find by words and code: their hits, those by a whole code marked so.
Teller = Callable[[str, str, User], Iterable[Hit]]

_tellers: list[Teller] = []


def tell_of(teller: Teller) -> None:
    """Have a room above the shelf asked too. Told twice, it is asked once."""
    if teller not in _tellers:
        _tellers.append(teller)


def find(typed: str, *, user: User) -> Found:
    """Everything that a code or a part of a name fits; secret names are found by the owner alone.

    Seven queries at most, and those of the rooms that told of themselves.
    """
    words = one_line(typed)
    if len(words) < SHORTEST:
        return Found(words, too_short=bool(words))
    code = tidy(words)
    lots = _lots(code, words, user)
    colourways = _colourways(code, words, user)
    mixes = list(Mix.objects.filter(Q(code=code) | ~Q(name="") & Q(name__icontains=words)).order_by("-id"))
    coded = [
        *(_code("Lot", each.code, each.shown_name(user), "lot") for each in lots if each.code == code),
        *(
            _code("Pot", each.code, each.colourway.shown_name(user), "pot")
            for each in Pot.objects.select_related("colourway").filter(code=code)
        ),
        *(_code("Mix", each.code, str(each), "mix") for each in mixes if each.code == code),
    ]
    if not coded:
        # A one-off goes by the code of its first pot, which is then what is meant.
        coded = [
            _code("Colourway", each.code, each.shown_name(user), "colourway")
            for each in colourways
            if each.code == code
        ]
    one_offs = [
        Hit("One-off", each.own_name, each.code, reverse("one-off", args=[each.code]))
        for each in lots
        if each.code != code
    ]
    named = [each for each in mixes if each.code != code]
    told = [hit for teller in _tellers for hit in teller(words, code, user)]
    return Found(
        words,
        [
            *coded,
            *(hit for hit in told if hit.is_code),
            *one_offs,
            *_by_name(words, user, colourways, named),
            *(hit for hit in told if not hit.is_code),
        ],
    )


def _lots(code: str, words: str, user: User) -> list[DyeLot]:
    """The lot of a code, and the one-offs by a part of their name."""
    named = Q(own_name__icontains=words)
    if not user.is_owner:
        named &= ~Q(colourway__secret_until__gt=timezone.now())
    found = DyeLot.objects.filter(Q(code=code) | named).select_related("colourway")
    return list(found.order_by(_code_first(code), "-id")[: EACH_SHOWN + 1])


def _code_first(code: str) -> Case:
    return Case(When(code=code, then=0), default=1)


def _colourways(code: str, words: str, user: User) -> list[Colourway]:
    """The colourway of a code, and those by a part of their name."""
    named = Q(name__icontains=words)
    if not user.is_owner:
        # A search must not tell which code a secret name belongs to.
        named &= ~Q(secret_until__gt=timezone.now())
    found = Colourway.objects.filter(Q(code=code) | named)
    return list(found.order_by(_code_first(code), "name")[: EACH_SHOWN + 1])


def _code(kind: str, code: str, name: str, address: str) -> Hit:
    return Hit(kind, code, "" if name == code else name, reverse(address, args=[code]), is_code=True)


def _by_name(words: str, user: User, colourways: Sequence[Colourway], mixes: Sequence[Mix]) -> list[Hit]:
    hits = [
        Hit("Colourway", each.name, each.code, reverse("colourway", args=[each.code]))
        for each in colourways
        if words.casefold() in each.name.casefold() and each.may_be_seen_by(user)
    ][:EACH_SHOWN]
    plain = _plain_names(words)
    hits += [Hit("Base", name, "", reverse("base", args=[pk])) for name, _, pk in plain["base"]]
    mill_lots = MillLot.objects.filter(number__icontains=words, unknown=False).select_related("base")
    hits += [
        Hit("Mill lot", each.number, str(each.base), reverse("trace-mill-lot", args=[each.pk]))
        for each in mill_lots.order_by("-id")[:EACH_SHOWN]
    ]
    hits += [
        Hit("Dye", name, str(Dye.Class(detail).label), reverse("dye", args=[pk]))
        for name, detail, pk in plain["dye"]
    ]
    jars = Jar.objects.filter(label__icontains=words).select_related("dye").order_by("-id")[:EACH_SHOWN]
    hits += [Hit("Jar", each.label, str(each.dye), reverse("trace-jar", args=[each.pk])) for each in jars]
    hits += [
        Hit("Mix", each.name, each.code, reverse("mix", args=[each.code])) for each in mixes[:EACH_SHOWN]
    ]
    hits += [
        Hit("Place", name, "", f"{reverse('shelf')}?find={quote(name)}") for name, _, _ in plain["place"]
    ]
    return hits


def _plain_names(words: str) -> dict[str, list[tuple[str, str, int]]]:
    """Bases, dyes and places by a part of their name: name, detail and id, by kind. One query."""
    named = {"name__icontains": words}
    bases = Base.objects.filter(**named).annotate(found_as=Value("base"), detail=Value(""))
    dyes = Dye.objects.filter(**named).annotate(found_as=Value("dye"), detail=F("dye_class"))
    places = Place.objects.filter(kind=Place.Kind.SHELF, closed_at__isnull=True, **named)
    columns = ("found_as", "name", "detail", "pk")
    rows = bases.values_list(*columns).union(
        dyes.values_list(*columns),
        places.annotate(found_as=Value("place"), detail=Value("")).values_list(*columns),
    )
    found: dict[str, list[tuple[str, str, int]]] = {"base": [], "dye": [], "place": []}
    for kind, name, detail, pk in rows.order_by("name"):
        if len(found[kind]) < EACH_SHOWN:
            found[kind].append((name, detail, pk))
    return found
