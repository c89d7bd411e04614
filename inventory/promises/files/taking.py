"""What was looked through is taken in, some rows at a time: the same file again changes nothing, a row put right only its own."""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Mapping
from dataclasses import replace

from django.db import transaction
from django.utils import timezone
from django_tasks import task

from dyehouse.studio.models import Studio, User
from dyehouse.studio.refusals import Refused
from inventory.promises.files.fields import FIELDS
from inventory.promises.files.looking import (
    SAME,
    Looked,
    Planned,
    columns_for,
    look_through,
    map_that_fits,
    table_of,
)
from inventory.promises.files.rows import FileRow, Whose
from inventory.promises.memberships import change, join
from inventory.promises.models import (
    ColumnMap,
    Membership,
    Order,
    OrderLine,
    Payment,
    Person,
    TakenRow,
    TakingIn,
)
from inventory.promises.orders import (
    LineWanted,
    add_line,
    cancel_line,
    change_line,
    pay_order,
    place_order,
)
from inventory.promises.people import PersonFacts, add_person, change_person, person_by_email
from recipes.lists.reading import FileRefused, column_key
from recipes.words import one_line

#: Up to so many rows are taken in while the page waits; more go to the worker.
AT_ONCE = 200
A_PART = 250
LEFT_BEHIND = dt.timedelta(seconds=60)
State = TakingIn.State
DOUBLES = {True: Person.Doubles.SAME.value, False: Person.Doubles.DIFFERENT.value}


class SourceNameTaken(Refused):
    """Another source has this name."""


class NotToTake(Refused):
    """The file is not to be taken in any more: it was, or it was dropped."""


class ColumnsUnclear(Refused):
    """A column that is needed is not told, or two fields stand under one heading."""


@transaction.atomic
def choose_file(*, key: uuid.UUID, kind: str, content: bytes, file_name: str, who: User) -> TakingIn:
    """Keep a file to look through. Its columns are those of the source whose headings it has; else a source is begun.

    The same key again gives the first. Raises FileRefused.
    """
    first = TakingIn.objects.filter(key=key).first()
    if first is not None:
        return first
    table = table_of(content)
    if not table.rows:
        raise FileRefused("Below the column names this file has no rows.")
    column_map = map_that_fits(kind, table)
    if column_map is None:
        column_map = ColumnMap.objects.create(
            name=_free_name(one_line(file_name).rsplit(".", 1)[0][:40] or ColumnMap.Kind(kind).label),
            kind=kind,
            made_at=timezone.now(),
        )
        column_map.columns = columns_for(column_map, table)
        column_map.save(update_fields=["columns"])
    return TakingIn.objects.create(
        key=key,
        column_map=column_map,
        # A name a person gave a file may name people; only its kind is kept.
        file_name="",
        sha256=hashlib.sha256(content).hexdigest(),
        contents=content,
        state=State.LOOKED,
        rows=len(table.rows),
        asked_at=timezone.now(),
        by=who,
    )


def _free_name(name: str) -> str:
    taken = {known.casefold() for known in ColumnMap.objects.values_list("name", flat=True)}
    if name.casefold() not in taken:
        return name
    return next(f"{name} {n}" for n in range(2, len(taken) + 3) if f"{name} {n}".casefold() not in taken)


@transaction.atomic
def tell_columns(
    *, column_map: ColumnMap, name: str, columns: Mapping[str, str], day_order: str = ""
) -> ColumnMap:
    """Say once what the columns of a source are. Raises SourceNameTaken, ColumnsUnclear."""
    called = one_line(name)[:60]
    if not called:
        raise ColumnsUnclear("Give the source a name, such as the shop it comes from.")
    if ColumnMap.objects.filter(name__iexact=called).exclude(pk=column_map.pk).exists():
        raise SourceNameTaken(f"There is a source called {called} already. Choose another name.")
    told = {key: heading for key, heading in columns.items() if heading}
    keys = [column_key(heading) for heading in told.values()]
    twice = next((heading for heading in told.values() if keys.count(column_key(heading)) > 1), None)
    if twice is not None:
        fields = {field.key: field.words for field in FIELDS[column_map.kind]}
        both = " and ".join(fields[key] for key, heading in told.items() if heading == twice)
        raise ColumnsUnclear(f"{both} both stand under “{twice}”. A column means one thing.")
    locked = ColumnMap.objects.select_for_update().get(pk=column_map.pk)
    locked.name, locked.columns, locked.day_order = called, told, day_order
    locked.save(update_fields=["name", "columns", "day_order"])
    return locked


@transaction.atomic
def tell_words(*, column_map: ColumnMap, words: Mapping[tuple[str, str], str]) -> ColumnMap:
    """Say what words of a source mean here: by field and word, the id of the thing. Told before, the newer holds."""
    locked = ColumnMap.objects.select_for_update().get(pk=column_map.pk)
    for (field, word), value in words.items():
        if value:
            locked.words.setdefault(field, {})[word] = value
    locked.save(update_fields=["words"])
    return locked


def looked_at(taking: TakingIn) -> Looked:
    """The file of a taking-in, looked through as the house is now. Raises NotToTake when the file is gone."""
    if taking.contents is None:
        raise NotToTake("This file was dealt with before, and is not kept.")
    return look_through(taking.column_map, table_of(bytes(taking.contents)))


def take_in(*, taking: TakingIn) -> TakingIn:
    """Take in every row that can be; few at once, many by the worker. Raises NotToTake where that was done or dropped.

    Rows that are wrong stay out and can come with a file put right.
    """
    with transaction.atomic():
        locked = TakingIn.objects.select_for_update().select_related("column_map", "by").get(pk=taking.pk)
        if locked.state != State.LOOKED:
            raise NotToTake("This file was dealt with before.")
        count = len(looked_at(locked).to_take)
        locked.state, locked.rows, locked.beat_at = State.TAKING, count, timezone.now()
        locked.save(update_fields=["state", "rows", "beat_at"])
        if count > AT_ONCE:
            transaction.on_commit(lambda: _hand_out(locked.pk))
            return locked
    take_rows(locked.pk)
    locked.refresh_from_db()
    return locked


def drop(*, taking: TakingIn) -> None:
    """Leave a file: nothing more of it is taken in, and it is not kept. What was taken in already stays."""
    TakingIn.objects.filter(pk=taking.pk, state__in=(State.LOOKED, State.TAKING)).update(
        state=State.DROPPED, contents=None
    )


def pick_up_left_behind() -> None:
    """Have the worker go on with files of which nothing was heard for a while."""
    since = timezone.now() - LEFT_BEHIND
    for taking in TakingIn.objects.filter(state=State.TAKING, beat_at__lt=since):
        TakingIn.objects.filter(pk=taking.pk).update(beat_at=timezone.now())
        _hand_out(taking.pk)


def _hand_out(pk: int) -> None:
    take_rows_later.enqueue(pk)


@task()
def take_rows_later(pk: int) -> None:
    """The worker's way to the rows."""
    take_rows(pk)


def take_rows(pk: int) -> None:
    """Take the rows in, a part a transaction, until none is left or somebody dropped the file.

    A part looks at the file anew, so two workers take turns and a house that was closed goes on where it stopped.
    """
    while True:
        try:
            with transaction.atomic():
                if not _take_part(pk):
                    return
        except Refused as refused:
            TakingIn.objects.filter(pk=pk).update(state=State.FAILED, why=str(refused)[:300], contents=None)
            return


def _take_part(pk: int) -> bool:
    taking = TakingIn.objects.select_for_update(of=("self",)).select_related("column_map", "by").get(pk=pk)
    if taking.state != State.TAKING:
        return False
    looked = looked_at(taking)
    rows = looked.to_take
    part = rows[:A_PART] if len(rows) > AT_ONCE else rows
    for planned in part:
        _take(planned, taking, looked.columns)
    left = len(rows) - len(part)
    taking.rows_done, taking.beat_at = taking.rows - left, timezone.now()
    if not left:
        taking.state, taking.contents = State.DONE, None
    taking.save(update_fields=["rows_done", "beat_at", "state", "contents"])
    return bool(left)


def _take(planned: Planned, taking: TakingIn, columns: Mapping[str, str]) -> None:
    if planned.deed == SAME:
        return
    row = planned.row
    if planned.level is not None:
        membership = _sign_up(planned, taking)
        kept: dict[str, Membership | Order | OrderLine] = {"membership": membership}
    else:
        line = _order_line(planned, taking)
        kept = {"order": line.order, "order_line": line}
    if planned.taken is not None:
        TakenRow.objects.filter(pk=planned.taken.pk).update(digest=row.digest, taking=taking, **kept)
    else:
        TakenRow.objects.create(
            column_map=taking.column_map,
            taking=taking,
            order_number=row.number,
            position=row.position,
            digest=row.digest,
            **kept,
        )


def _sign_up(planned: Planned, taking: TakingIn) -> Membership:
    row, level = planned.row, planned.level
    assert level is not None
    before = planned.taken.membership if planned.taken is not None else None
    payer = _person(row, before.payer if before is not None else None)
    receiver = _receiver(row, payer, before.receiver if before is not None else None)
    _avoids(receiver, row)
    doubles = "" if row.same_pot is None else DOUBLES[row.same_pot]
    # Who has not paid yet has prepaid nothing.
    prepaid = row.months if row.paid == Payment.Kind.PAID else None
    if before is None:
        made = join(
            level=level,
            receiver=receiver,
            payer=payer,
            base=planned.base,
            count=row.count,
            gift_note=row.gift_note,
            doubles=doubles,
            prepaid_rounds=prepaid,
            reference=row.number,
            signed_up_at=row.placed_at,
            who=taking.by,
        )
    else:
        made = change(
            membership=before,
            level=level,
            base=planned.base,
            count=row.count,
            doubles=doubles,
            receiver=receiver,
            payer=payer,
            gift_note=row.gift_note or before.gift_note,
            prepaid_rounds=prepaid,
            reference=row.number,
            who=taking.by,
            why=f"order {row.number} was put right",
        )
    _say_paid_at_sign_up(made, row.paid)
    return made


def _say_paid_at_sign_up(membership: Membership, kind: str) -> None:
    if membership.paid_at_sign_up != kind:
        membership.paid_at_sign_up = kind
        membership.save(update_fields=["paid_at_sign_up"])


def _order_line(planned: Planned, taking: TakingIn) -> OrderLine:
    row, source = planned.row, taking.column_map.name
    before = planned.taken.order_line if planned.taken is not None else None
    why = f"order {row.number} was put right"
    wanted = LineWanted(row.count, offer=planned.offer, each_minor=row.price_minor)
    if before is not None:
        line = _put_right(before, wanted, taking.by, why)
        buyer = _person(row, line.order.buyer)
    else:
        order = Order.objects.filter(source=source, number__iexact=row.number).first()
        if order is None:
            buyer = _person(row, None)
            order = place_order(
                kind=Order.Kind.PREORDER,
                number=row.number,
                source=source,
                buyer=buyer,
                receiver=_receiver(row, buyer, None),
                lines=[wanted],
                placed_at=row.placed_at or timezone.now(),
                currency=Studio.current().currency,
                gift_note=row.gift_note,
                note=row.note,
                who=taking.by,
                beyond_limit=True,
            )
            line = order.lines.get()
        else:
            line = add_line(order=order, wanted=wanted, who=taking.by, why="Another row of the file")
    said = line.order.payments.order_by("-id").values_list("kind", flat=True).first() or Payment.Kind.DUE
    if said != row.paid:
        pay_order(order=line.order, kind=row.paid, who=taking.by, why="as the file says")
    return line


def _put_right(line: OrderLine, wanted: LineWanted, who: User, why: str) -> OrderLine:
    if line.cancelled_at is not None:
        return line
    if line.offer != wanted.offer:
        order = line.order
        cancel_line(line=line, who=who, why=why)
        return add_line(order=order, wanted=wanted, who=who, why=why)
    line = change_line(line=line, count=wanted.count, who=who, why=why)
    if wanted.each_minor is not None and wanted.each_minor != line.each_minor:
        line.each_minor = wanted.each_minor
        line.save(update_fields=["each_minor"])
    return line


def _person(row: FileRow, before: Person | None) -> Person:
    """The person of a row: by e-mail, else whom the row was of before, else somebody new. Nobody is joined silently."""
    known = person_by_email(row.whose.email) or before
    if known is None:
        return add_person(facts=_with(PersonFacts(), row.whose), as_written=True)
    own = before is not None and known.pk == before.pk
    # A row put right puts its own person right; an address is filled in where the house has none.
    if own or not (known.street or known.city):
        return change_person(person=known, facts=_with(PersonFacts.of(known), row.whose), as_written=True)
    return known


def _receiver(row: FileRow, payer: Person, before: Person | None) -> Person:
    if not row.gift_for:
        return payer
    if before is not None and before.pk != payer.pk:
        if before.name != row.gift_for:
            return change_person(person=before, facts=replace(PersonFacts.of(before), name=row.gift_for))
        return before
    return add_person(facts=PersonFacts(name=row.gift_for))


def _avoids(person: Person, row: FileRow) -> None:
    families = {*person.avoids_families, *row.avoids_families}
    fibres = {*person.avoids_fibres, *row.avoids_fibres}
    if families != set(person.avoids_families) or fibres != set(person.avoids_fibres):
        facts = replace(PersonFacts.of(person), avoids_families=families, avoids_fibres=fibres)
        change_person(person=person, facts=facts, as_written=True)


def _with(facts: PersonFacts, whose: Whose) -> PersonFacts:
    """These facts, with what the file says in place of what stood there."""
    return replace(
        facts,
        name=whose.name or facts.name,
        email=whose.email or facts.email,
        phone=whose.phone or facts.phone,
        company=whose.company or facts.company,
        street=whose.street or facts.street,
        city=whose.city or facts.city,
        country_area=whose.region or facts.country_area,
        postcode=whose.postcode or facts.postcode,
        country=whose.country or facts.country,
    )
