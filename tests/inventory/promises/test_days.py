import pytest
from django.urls import reverse

from inventory.promises.days import CannotLayOut, days_page, lay_out, leftovers, take_out
from inventory.promises.days_views import numbers_in
from inventory.promises.models import LaidDay
from tests import factories
from tests.inventory.promises.factories import box_of_days

pytestmark = pytest.mark.django_db


@pytest.fixture
def who():
    return factories.OwnerFactory()


def dye(offer, *good: int, who) -> None:
    """Good pieces for the days of a box, on the shelf."""
    for part, pieces in zip(offer.kit.parts.order_by("position"), good, strict=True):
        factories.shelved_lot(who=who, good=pieces, second=1, put_up=part.put_up, colourway=part.colourway)


def test_each_day_tells_what_is_needed_dyed_and_good_and_the_scarcest_holds_the_boxes_up(who):
    offer = box_of_days(days=3, boxes=4, who=who)
    dye(offer, 5, 3, 4, who=who)
    page = days_page(offer, user=who)
    rows = [(row.needed, row.day.dyed, row.day.good, row.missing) for row in page.rows]
    assert rows == [(4, 6, 5, 0), (4, 4, 3, 1), (4, 5, 4, 0)]
    assert (page.standing.completable, [row.day.number for row in page.scarcest]) == (3, [2])


def test_a_day_is_laid_out_in_one_touch_with_exceptions_and_complete_at_n_of_n(who):
    offer = box_of_days(days=2, boxes=4, who=who)
    dye(offer, 4, 3, who=who)
    lay_out(offer=offer, day=1, first=1, last=4, but_not=[3], who=who)
    one = days_page(offer, user=who).rows[0]
    assert (one.boxes_inside, one.boxes_without, one.laid.complete, one.day.wrapped) == (
        "1-2, 4",
        "3",
        False,
        3,
    )
    lay_out(offer=offer, day=1, first=3, last=3, who=who)
    assert days_page(offer, user=who).rows[0].laid.complete
    with pytest.raises(CannotLayOut, match="takes 4 pieces; 3 are good"):
        lay_out(offer=offer, day=2, first=1, last=4, who=who)
    with pytest.raises(CannotLayOut, match="numbered from 1 to 4"):
        lay_out(offer=offer, day=2, first=1, last=5, who=who)
    with pytest.raises(CannotLayOut, match="no day 9"):
        lay_out(offer=offer, day=9, first=1, last=1, who=who)
    take_out(offer=offer, day=1, boxes=[2], who=who)
    with pytest.raises(CannotLayOut, match="not in box 2"):
        take_out(offer=offer, day=1, boxes=[2], who=who)
    assert days_page(offer, user=who).rows[0].boxes_without == "2"
    assert LaidDay.objects.count() == 3


def test_the_leftovers_name_the_pair_that_was_swapped(who):
    offer = box_of_days(days=3, boxes=2, who=who)
    dye(offer, 3, 3, 3, who=who)
    for day in (1, 2, 3):
        lay_out(offer=offer, day=day, first=1, last=2, who=who)
    page = days_page(offer, user=who)
    assert leftovers(page, {1: 1, 2: 1, 3: 1}).right
    assert leftovers(page, {1: 2, 2: 1, 3: 0}).swapped == (1, 3)
    assert leftovers(page, {1: 3, 2: 1, 3: 0}).swapped is None


@pytest.mark.parametrize(("typed", "numbers"), [("", []), ("13, 20-22", [13, 20, 21, 22]), ("4 7", [4, 7])])
def test_numbers_of_boxes_are_read_as_one_writes_them(typed, numbers):
    assert numbers_in(typed) == numbers
    for wrong in ("7-4", "all", "1-9999"):
        with pytest.raises(CannotLayOut):
            numbers_in(wrong)


def test_a_helper_lays_days_out_and_sees_no_secret_name(client, who, django_assert_max_num_queries):
    offer = box_of_days(days=2, boxes=3, who=who)
    secret = offer.kit.parts.first().colourway
    secret.name, secret.secret_until = "Winter Constellation", "2099-01-01T00:00:00Z"
    secret.save()
    dye(offer, 3, 3, who=who)
    client.force_login(factories.HelperFactory())
    factories.studio()
    address = reverse("product-days", args=[offer.pk])
    with django_assert_max_num_queries(12):
        page = client.get(address).content.decode()
    assert "Winter Constellation" not in page
    client.post(reverse("product-day-in", args=[offer.pk]), {"day": 1, "first": 1, "last": 3})
    assert "all 3" in client.get(address).content.decode()
    client.post(reverse("product-day-out", args=[offer.pk]), {"day": 1, "boxes": "2"})
    assert "1, 3" in client.get(address).content.decode()
    left = client.post(reverse("product-days-left", args=[offer.pk]), {"left-1": "1", "left-2": "3"})
    assert "Every day leaves what it should" in left.content.decode()
    refused = client.post(reverse("product-days-left", args=[offer.pk]), {"left-1": "some"}, follow=True)
    assert "write how many are left" in refused.content.decode()
