import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.promises.erased import digest_of
from inventory.promises.files import taking as files
from inventory.promises.files.taking import (
    ColumnsUnclear,
    NotToTake,
    SourceNameTaken,
    choose_file,
    drop,
    looked_at,
    take_in,
    tell_columns,
    tell_words,
)
from inventory.promises.models import (
    Box,
    ErasedMark,
    Membership,
    Order,
    Payment,
    Person,
    TakenRow,
    TakingIn,
)
from tests import factories
from tests.inventory.promises.factories import club, level, product

pytestmark = pytest.mark.django_db

HEADINGS = "Order no,Placed at,Email,Name,Street,Town,Postcode,Country,Club,Level,Base,How many,Please avoid,Same pot,Gift for,Months,Paid\n"


def sign_up(number: str = "S1", **cells: str) -> str:
    said = {
        "placed": "2026-09-01T10:00:00+00:00",
        "email": f"{number.lower()}@example.org",
        "name": f"Wren {number}",
        "street": "12 Mill Lane",
        "town": "Leeds",
        "postcode": "LS1 4AP",
        "country": "GB",
        "club": "Tidewrack",
        "level": "Two skeins",
        "base": "",
        "count": "1",
        "avoid": "",
        "pot": "",
        "gift": "",
        "months": "6",
        "paid": "paid",
        **cells,
    }
    return ",".join([number, *(f'"{cell}"' for cell in said.values())]) + "\n"


def chosen(text: str, *, kind: str = "sign_ups", who=None) -> TakingIn:
    return choose_file(
        key=uuid.uuid4(),
        kind=kind,
        content=text.encode(),
        file_name="autumn.csv",
        who=who or factories.OwnerFactory(),
    )


def taken(text: str, **facts) -> TakingIn:
    return take_in(taking=chosen(text, **facts))


@pytest.fixture
def tidewrack():
    made = level(of=club("Tidewrack"), pieces=2)
    made.name = "Two skeins"
    made.save()
    return made


def test_sign_ups_become_memberships_of_people_who_are_known_by_their_email(tidewrack):
    text = (
        HEADINGS
        + sign_up("S1", avoid="orange; nylon", pot="yes")
        + sign_up("S2", email="S1@Example.org", count="2")
    )
    looked = looked_at(chosen(text))
    assert (looked.count("new"), looked.wrong, looked.unknown) == (2, [], [])
    done = taken(text)
    assert (done.state, done.rows_done, done.contents) == ("done", 2, None)
    one, two = Membership.objects.order_by("pk")
    assert one.receiver == two.receiver == Person.objects.get()
    assert (one.level, one.count, one.doubles, one.prepaid_rounds) == (tidewrack, 1, "same", 6)
    assert (one.receiver.avoids_families, one.receiver.avoids_fibres) == (["orange"], ["nylon"])
    assert (one.receiver.city, one.receiver.country, one.reference, two.count) == ("Leeds", "GB", "S1", 2)


def test_the_same_file_twice_changes_nothing_and_a_row_put_right_changes_its_own_promise(tidewrack):
    who = factories.OwnerFactory()
    first = HEADINGS + sign_up("S1") + sign_up("S2")
    taken(first, who=who)
    again = looked_at(chosen(first, who=who))
    assert (again.count("same"), again.to_take) == (2, [])
    before = Membership.objects.get(reference="S1")
    right = HEADINGS + sign_up("S1") + sign_up("S2", count="3", town="York")
    looked = looked_at(chosen(right, who=who))
    (changed,) = looked.to_take
    assert (changed.row.row, changed.says) == (3, ("boxes a round: 1 becomes 3",))
    taken(right, who=who)
    assert Membership.objects.count() == 2
    after = Membership.objects.get(reference="S2")
    assert (after.count, after.receiver.city) == (3, "York")
    assert after.changes.order_by("-pk").first().after == {"count": 3}
    assert Membership.objects.get(reference="S1").changes.count() == before.changes.count() == 1
    assert TakenRow.objects.count() == 2


def test_rows_that_are_not_right_stay_out_until_they_are(tidewrack):
    text = HEADINGS + sign_up("S1") + sign_up("S2", count="two")
    done = taken(text)
    assert (done.rows_done, Membership.objects.count()) == (1, 1)
    taken(text.replace("two", "2"))
    assert Membership.objects.get(reference="S2").count == 2
    assert Membership.objects.count() == 2


def test_a_word_that_is_no_name_here_is_asked_once_and_remembered_for_the_source(tidewrack):
    text = HEADINGS + sign_up("S1", level="2 skeins") + sign_up("S2", level="2 skeins")
    first = chosen(text)
    looked = looked_at(first)
    (word,) = looked.unknown
    assert (word.field, word.word, word.likely) == ("level", "Tidewrack / 2 skeins", str(tidewrack.pk))
    assert "Say above what “Tidewrack / 2 skeins” means here" in looked.wrong[0].sentence
    tell_words(column_map=first.column_map, words={(word.field, word.key): str(tidewrack.pk)})
    take_in(taking=TakingIn.objects.get(pk=first.pk))
    assert {each.level for each in Membership.objects.all()} == {tidewrack}
    later = chosen(HEADINGS + sign_up("S3", level="2 Skeins"))
    assert later.column_map == first.column_map
    assert looked_at(later).unknown == []


def test_columns_that_nobody_guessed_are_told_once(tidewrack):
    text = "Nr.;Post;Wer;Stufe;Klub\nS1;wren@example.org;Wren;Two skeins;Tidewrack\n"
    first = chosen(text)
    looked = looked_at(first)
    assert [field.key for field in looked.missing] == ["number", "level", "email"]
    columns = {"number": "nr.", "email": "post", "name": "wer", "level": "stufe", "club": "klub"}
    with pytest.raises(ColumnsUnclear, match="A column means one thing"):
        tell_columns(column_map=first.column_map, name="Stall", columns={**columns, "club": "stufe"})
    tell_columns(column_map=first.column_map, name="Market stall", columns=columns)
    take_in(taking=first)
    assert Membership.objects.get().receiver.name == "Wren"
    assert chosen(text).column_map.name == "Market stall"
    other = chosen(HEADINGS + sign_up())
    with pytest.raises(SourceNameTaken):
        tell_columns(column_map=other.column_map, name="market STALL", columns={})


def test_a_gift_is_for_somebody_else_whose_address_is_asked(tidewrack):
    text = HEADINGS + sign_up("S1", gift="Teo Wolski", months="3", paid="failed")
    (planned,) = looked_at(chosen(text)).planned
    assert any("address of who gets it" in question for question in planned.questions)
    taken(text)
    membership = Membership.objects.get()
    assert membership.is_gift
    assert (membership.receiver.name, membership.receiver.street) == ("Teo Wolski", "")
    assert (membership.prepaid_rounds, membership.paid_at_sign_up) == (None, "failed")


def test_an_address_that_its_country_would_not_deliver_is_kept_as_written_and_asked_about(tidewrack):
    text = HEADINGS + sign_up("S1", postcode="12")
    (planned,) = looked_at(chosen(text)).planned
    assert planned.questions
    taken(text)
    assert Person.objects.get().postcode == "12"


def test_who_was_erased_does_not_come_back_by_a_file(tidewrack):
    ErasedMark.objects.create(digest=digest_of("s1@example.org"), erased_at="2026-01-01T00:00:00Z")
    done = taken(HEADINGS + sign_up("S1") + sign_up("S2"))
    assert done.rows_done == 1
    assert not Person.objects.filter(email="s1@example.org").exists()


ORDERS = "ref;date;e-mail;recipient;product;yarn;qty;price;payment\n"


def test_orders_over_several_rows_become_one_order_and_its_boxes():
    box = product()
    box.name = "Winter box"
    box.save()
    offer = box.offers.get()
    offer.name = "Sock"
    offer.save()
    text = (
        ORDERS
        + "A1;2026-06-08;wren@example.org;Wren;Winter box;Sock;2;189,00;deposit\nA1;;;;Winter box;Sock;1;189,00;\n"
    )
    taken(text, kind="orders")
    order = Order.objects.get()
    assert [(line.count, line.each_minor) for line in order.lines.order_by("position")] == [
        (2, 18900),
        (1, 18900),
    ]
    assert Box.objects.filter(order_line__order=order).count() == 2
    assert order.payments.get().kind == Payment.Kind.DEPOSIT
    taken(text, kind="orders")
    assert Order.objects.count() == 1
    taken(text.replace(";Sock;2;189,00;deposit", ";Sock;3;179,00;full"), kind="orders")
    order.refresh_from_db()
    first = order.lines.order_by("position").first()
    assert (first.count, first.each_minor) == (3, 17900)
    assert [row.kind for row in order.payments.order_by("pk")] == ["deposit", "paid"]


def test_a_file_that_was_dropped_or_done_is_not_taken_in_again(tidewrack):
    left = chosen(HEADINGS + sign_up())
    drop(taking=left)
    with pytest.raises(NotToTake):
        take_in(taking=left)
    assert not Membership.objects.exists()


def test_many_rows_are_taken_a_part_at_a_time_and_go_on_where_they_stopped(
    tidewrack, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(files, "AT_ONCE", 2)
    monkeypatch.setattr(files, "A_PART", 3)
    text = HEADINGS + "".join(sign_up(f"S{n}") for n in range(8))
    taking = take_in(taking=chosen(text))
    assert (taking.state, taking.rows, taking.rows_done) == ("taking", 8, 0)
    with django_capture_on_commit_callbacks():
        assert files._take_part(taking.pk)
    taking.refresh_from_db()
    assert (taking.state, taking.rows_done, Membership.objects.count()) == ("taking", 3, 3)
    files.take_rows(taking.pk)
    taking.refresh_from_db()
    assert (taking.state, taking.rows_done, Membership.objects.count()) == ("done", 8, 8)


def test_the_pages_go_from_the_file_to_what_was_taken_in(client, tidewrack):
    owner = factories.OwnerFactory()
    client.force_login(owner)
    factories.studio()
    text = HEADINGS + sign_up("S1", level="2 skeins") + sign_up("S2", count="two")
    upload = SimpleUploadedFile("autumn.csv", text.encode(), content_type="text/csv")
    answer = client.post(reverse("taking-files"), {"kind": "sign_ups", "file": upload})
    assert answer.status_code == 303
    page = client.get(answer["Location"]).content.decode()
    assert "“Tidewrack / 2 skeins” is" in page
    assert "“two” is not a number" in page
    key = TakingIn.objects.get().key
    told = client.post(reverse("taking-words", args=[key]), {"word-0": str(tidewrack.pk)})
    assert told.status_code == 303
    assert "Take in 1 row" in client.get(answer["Location"]).content.decode()
    client.post(reverse("taking-take", args=[key]))
    assert "1 row taken in" in client.get(answer["Location"]).content.decode()
    assert Membership.objects.count() == 1
    refused = client.post(
        reverse("taking-files"),
        {"kind": "sign_ups", "file": SimpleUploadedFile("a.csv", b"%PDF-1.7 something")},
    )
    assert refused.status_code == 422
    assert "This is a PDF" in refused.content.decode()
