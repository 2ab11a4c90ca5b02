from django.apps import AppConfig
from django.core.signals import request_finished
from django.db.models.signals import post_delete


class CoralsConfig(AppConfig):
    name = "apps.corals"

    def ready(self):
        # Models are there only now; the map below asks for what stands in the tank.
        from apps.corals.lit_spots import coral_spots
        from apps.corals.map_pins import coral_pins
        from apps.corals.overview import coral_lines
        from apps.corals.photo_files import delete_files_of, take_back_files
        from apps.corals.removable import KINDS
        from apps.corals.rezoned import water_event_moments
        from apps.corals.stages import coral_stages
        from apps.lighting.spots import register_spots
        from apps.lightmap.pins import register
        from apps.tanks.beginning import register_stages
        from apps.tanks.overview import register_overview
        from apps.tanks.removable_kinds import register_removable
        from apps.tanks.rezoning import register_clock_rows

        register("corals", coral_pins)
        register_spots(coral_spots)
        register_overview(coral_lines)
        register_removable(*KINDS)
        register_clock_rows(water_event_moments)
        register_stages(coral_stages)
        post_delete.connect(delete_files_of, sender=self.get_model("Photo"))
        request_finished.connect(take_back_files)
