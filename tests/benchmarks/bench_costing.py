"""What the stock is worth, with a million lines in the ledger."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

from tests.benchmarks.bench_many_years import processor_ms
from tests.benchmarks.harness import benchmark
from tests.benchmarks.many_years import DAYS, many_years


@benchmark("million_value_as_of", bar=1000, unit="ms")
def million_value_as_of() -> Decimal:
    """The value of the whole stock as of a year ago, ten years and a million lines on; in processor time; what lots cost is kept by then."""
    from inventory.costing import paid, usual
    from inventory.costing.reckoning import up_to_date
    from inventory.costing.worth import worth
    from tests.inventory.costing.factories import USUAL, retail

    years = many_years()
    for line in paid.arrivals_of():
        paid.say_paid(key=uuid.uuid4(), line=line, goods_minor=line.quantity * 430, who=years.owner)
    usual.say_usual(
        key=uuid.uuid4(),
        from_day=years.first_day.date(),
        figures={**USUAL, "second_percent": 60},
        who=years.owner,
    )
    for put_up in years.put_ups:
        retail(put_up, 2600, who=years.owner, from_day=years.first_day.date())
    up_to_date()
    when = years.first_day + dt.timedelta(days=DAYS * 9 // 10)
    assert worth(when).total > 0
    return processor_ms(lambda _: worth(when), 5)
