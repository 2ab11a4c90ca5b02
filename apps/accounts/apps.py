from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "apps.accounts"

    def ready(self):
        # allauth's signals are there only once its models are.
        from apps.accounts.security_events import listen

        listen()
