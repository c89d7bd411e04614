from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate, pre_migrate


class LedgerConfig(AppConfig):
    name = "dyehouse.ledger"
    label = "ledger"
    verbose_name = "The ledger"

    def ready(self) -> None:
        from dyehouse.ledger import guard
        from dyehouse.ledger.models import AgreedCount, Claim, Line, Movement

        guard.append_only(Movement, Line, Claim, AgreedCount)
        pre_migrate.connect(guard.before_migrating, sender=self)
        post_migrate.connect(guard.after_migrating, sender=self)
        checks.register(guard.check_triggers_stand, checks.Tags.database)
