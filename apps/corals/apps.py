from django.apps import AppConfig
from django.core.signals import request_finished
from django.db.models.signals import post_delete


class CoralsConfig(AppConfig):
    name = "apps.corals"

    def ready(self):
        # Models are there only now.
        from apps.corals.photo_files import delete_files_of, take_back_files
        from apps.later.running import job_over

        for name in ("Photo", "SentPhoto"):
            post_delete.connect(delete_files_of, sender=self.get_model(name))
        request_finished.connect(take_back_files)
        job_over.connect(take_back_files)
