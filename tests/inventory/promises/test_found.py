import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.finding import find
from inventory.promises.models import Parcel
from tests import factories
from tests.inventory.promises.factories import box_of_round, order_line, person

pytestmark = pytest.mark.django_db


def test_the_one_find_box_finds_people_orders_and_boxes_for_the_owner(client):
    owner = factories.OwnerFactory()
    whom = person("Ilse Vuorinen", email="ilse@example.org")
    line = order_line(buyer=whom)
    box = box_of_round(put_up=factories.put_up(), receiver=whom)
    for words in ("vuori", "ILSE@example", whom.code):
        (hit,) = [hit for hit in find(words, user=owner).hits if hit.kind == "Person"]
        assert (hit.title, hit.address) == ("Ilse Vuorinen", reverse("promises-person", args=[whom.code]))
    assert find(line.order.number.lower(), user=owner).only.address == reverse("order", args=[line.order_id])
    assert find(box.code, user=owner).only.address == reverse("round", args=[box.round_id])


def test_a_helper_finds_no_person_and_no_order():
    helper = factories.HelperFactory()
    whom = person("Ilse Vuorinen")
    line = order_line(buyer=whom)
    for words in ("Vuorinen", whom.code, line.order.number):
        assert find(words, user=helper).hits == []


def test_finding_takes_the_same_queries_however_much_there_is(client, django_assert_max_num_queries):
    client.force_login(factories.OwnerFactory())
    factories.studio()
    for number in range(4):
        person(f"Ilse {number}")
        Parcel.objects.create(code=f"ILSE{number}", receiver=person(), made_at=timezone.now())
    with django_assert_max_num_queries(12):
        page = client.get(reverse("find"), {"for": "Ilse"}).content.decode()
    assert "Ilse 3" in page
