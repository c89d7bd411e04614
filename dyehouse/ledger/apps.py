from django.apps import AppConfig


class LedgerConfig(AppConfig):
    name = "dyehouse.ledger"
    label = "ledger"
    verbose_name = "The ledger"
