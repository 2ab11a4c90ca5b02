from django.apps import AppConfig
from django.db.models.signals import post_delete


class LaterConfig(AppConfig):
    name = "apps.later"

    def ready(self) -> None:
        # Models are there only now.
        from apps.later.clearing import delete_file_of

        post_delete.connect(delete_file_of, sender=self.get_model("Job"))
