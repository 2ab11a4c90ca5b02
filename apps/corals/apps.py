from django.apps import AppConfig


class CoralsConfig(AppConfig):
    name = "apps.corals"

    def ready(self):
        # Models are there only now; the map below asks for what stands in the tank.
        from apps.corals.lit_spots import coral_spots
        from apps.corals.map_pins import coral_pins
        from apps.corals.overview import coral_lines
        from apps.corals.stages import coral_stages
        from apps.lighting.spots import register_spots
        from apps.surveys.pins import register
        from apps.tanks.beginning import register_stages
        from apps.tanks.overview import register_overview

        register("corals", coral_pins)
        register_spots(coral_spots)
        register_overview(coral_lines)
        register_stages(coral_stages)
