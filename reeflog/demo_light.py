"""The true light of the demo tanks: what an ideal meter would show there.

A short forward formula of its own, so that the maps of the demo are fits to readings and not
the fit's own answer read back.
"""

import numpy as np

WATER_INDEX = 1.34
# Attenuation of clear reef water, blue-rich light [1/cm]. House rule.
ATTENUATION_PER_CM = 0.004
# Share of the light that a clear side pane mirrors, and what scatters into any shade [1].
# House rules.
PANE_MIRRORS = 0.6
SCATTERED = 0.02
EMITTERS_PER_SIDE = 3
SAMPLES_ON_RAY = 40
ANGLES = np.radians(np.linspace(0.0, 85.0, 1701))
SINES_WATER = np.sin(ANGLES) / WATER_INDEX


def true_par(points_cm, *, tank, fixtures, rocks=(), ppf_umol_s):
    """Return PAR (n,) at points (n, 3) of x, y, depth [cm] under photics fixtures [umol m-2 s-1].

    Each fixture sends `ppf_umol_s` at full level [umol s-1] from a few emitters over its face
    with cos^m lobes; rays bend at the surface, the side panes mirror once, rocks cast shadows.
    """
    return np.array(
        [
            sum(
                fixture.level * ppf_umol_s * light_of(fixture, point, tank, rocks)
                for fixture in fixtures
            )
            for point in np.asarray(points_cm, float)
        ]
    )


def light_of(fixture, point, tank, rocks):
    """Return PAR at one point for 1 umol/s of one fixture at full level."""
    shares = (np.arange(EMITTERS_PER_SIDE) + 0.5) / EMITTERS_PER_SIDE - 0.5
    x, y, depth = point
    total, seen = 0.0, 0.0
    for image_x, image_y, mirrored in pane_images(x, y, tank):
        for dx in shares * fixture.panel_x_cm:
            for dy in shares * fixture.panel_y_cm:
                from_x, from_y = fixture.x_cm + dx, fixture.y_cm + dy
                away = np.hypot(image_x - from_x, image_y - from_y)
                light, enters = ray_light(
                    away, height_cm=fixture.height_cm, depth_cm=depth, beam_deg=fixture.beam_deg
                )
                light *= mirrored / EMITTERS_PER_SIDE**2
                total += light
                # A mirrored ray's way is not followed: panes fill shadows as they do in glass.
                direct = mirrored == 1.0
                share = enters / away if away else 0.0
                entry = from_x + share * (image_x - from_x), from_y + share * (image_y - from_y)
                if not (direct and shaded(entry, point, rocks)):
                    seen += light
    return SCATTERED * total + (1 - SCATTERED) * seen


def pane_images(x, y, tank):
    """Yield the point and its mirror images in the side panes: x, y [cm] and share of light."""
    yield x, y, 1.0
    yield -x, y, PANE_MIRRORS
    yield 2 * tank.length_cm - x, y, PANE_MIRRORS
    yield x, -y, PANE_MIRRORS
    if tank.back_pane == "clear":
        yield x, 2 * tank.width_cm - y, PANE_MIRRORS


def ray_light(away_cm, *, height_cm, depth_cm, beam_deg):
    """Return PAR for 1 umol/s at a level distance, and how far out its ray enters the water [cm].

    E = I(a) exp(-K z / cos w) sin a / (rho drho/da), flux conserved through a flat surface.
    """
    tan_water = SINES_WATER / np.sqrt(1 - SINES_WATER**2)
    rho = height_cm * np.tan(ANGLES) + depth_cm * tan_water
    if away_cm > rho[-1]:
        return 0.0, 0.0
    angle = max(float(np.interp(away_cm, rho, ANGLES)), 1e-3)
    sine_water = np.sin(angle) / WATER_INDEX
    cos_water = np.sqrt(1 - sine_water**2)
    slope = height_cm / np.cos(angle) ** 2 + depth_cm * np.cos(angle) / WATER_INDEX / cos_water**3
    reach = height_cm * np.tan(angle) + depth_cm * sine_water / cos_water
    exponent = np.log(0.5) / np.log(np.cos(np.radians(beam_deg / 2)))
    lobe = (exponent + 1) / (2 * np.pi) * np.cos(angle) ** exponent
    per_cm2 = lobe * np.sin(angle) / (reach * slope)
    light = per_cm2 * 1e4 * np.exp(-ATTENUATION_PER_CM * depth_cm / cos_water)
    return float(light), height_cm * np.tan(angle)


def shaded(entry, point, rocks):
    """Tell whether rock lies on the straight way from the surface to a point."""
    start, end = np.array([*entry, 0.0]), np.asarray(point, float)
    way = start + np.linspace(0.0, 0.97, SAMPLES_ON_RAY)[:, None] * (end - start)
    for rock in rocks:
        low = np.array([rock.x_cm, rock.y_cm, rock.depth_cm])
        high = low + np.array([rock.length_cm, rock.width_cm, rock.height_cm])
        if np.any(np.all((way > low) & (way < high), axis=1)):
            return True
    return False
