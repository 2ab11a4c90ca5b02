from django.apps import AppConfig


class LightingConfig(AppConfig):
    name = "apps.lighting"

    def ready(self):
        # Models are there only now; the tank's plan asks for what hangs above it.
        from apps.lighting.overview import lamp_lines
        from apps.lighting.removable import KINDS
        from apps.lighting.rezoned import light_change_moments, recut_days
        from apps.lighting.rig import overhead
        from apps.lighting.stages import light_stages
        from apps.tanks.beginning import register_stages
        from apps.tanks.overview import register_overview
        from apps.tanks.plan import register_overhead
        from apps.tanks.removable_kinds import register_removable
        from apps.tanks.rezoning import register_clock_rows, register_day_lines

        register_overhead(overhead)
        register_overview(lamp_lines)
        register_removable(*KINDS)
        register_clock_rows(light_change_moments)
        register_day_lines(recut_days)
        register_stages(light_stages)
