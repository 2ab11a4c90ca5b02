"""The invented scenes of `changed_tanks`: boxes, rocks, lamps and the optics they get."""

from dataclasses import dataclass

from .photon_world import Box, bare, lens, reflector


@dataclass(frozen=True)
class Scene:
    """What is invented for one tank; beams are those a box would print."""

    box: Box
    lamps: tuple  # (x, y) of each, where the keeper meant to hang them
    height_cm: float
    face_cm: tuple
    optic: object
    beam_deg: float
    fitted: object  # the narrower optic
    fitted_deg: float
    readings: tuple  # columns, rows, levels
    round_face: bool = False
    added: tuple | None = None  # where one more like the first is hung
    over_rock: int | None = None  # the fixture that is moved along x, and which way
    way: int = 1


def rock(x, y, top, length, width, depth):
    """Return a rock on the bottom by its corner, the depth of its top and its sides [cm]."""
    return (float(x), float(y), float(top)), (float(x + length), float(y + width), float(depth))


SCENES = (
    Scene(
        Box(60, 45, 42, bottom=0.35, ripple=0.05, rocks=(rock(34, 20, 24, 16, 14, 42),)),
        ((20, 22), (42, 23)),
        20.0,
        (14, 14),
        bare,
        120,
        lens,
        60,
        (4, 3, 3),
        round_face=True,
        over_rock=1,
        way=-1,
    ),
    Scene(
        Box(60, 60, 50, 1.34, 0.004, 0.004, dark_back=True, rocks=(rock(10, 30, 30, 18, 20, 50),)),
        ((18, 30), (42, 30)),
        20.0,
        (18, 18),
        lens,
        90,
        lens,
        55,
        (3, 3, 3),
        added=(30, 14),
        over_rock=0,
    ),
    Scene(
        Box(90, 45, 45, 1.34, 0.002, 0.003, ripple=0.07, bottom=0.4, rocks=()),
        ((23, 22), (67, 22)),
        20.0,
        (25, 25),
        bare,
        110,
        reflector,
        50,
        (5, 3, 3),
        added=(45, 22),
        over_rock=1,
        way=-1,
    ),
    Scene(
        Box(
            90,
            60,
            52,
            1.34,
            0.004,
            0.006,
            dark_back=True,
            bottom=0.1,
            rocks=(rock(12, 28, 28, 22, 20, 52), rock(58, 32, 22, 16, 16, 52)),
        ),
        ((23, 30), (68, 30)),
        20.0,
        (36, 14),
        reflector,
        80,
        lens,
        55,
        (5, 3, 4),
        over_rock=0,
    ),
    Scene(
        Box(120, 50, 48, 1.34, 0.003, 0.002, pane=0.95, rocks=(rock(48, 22, 26, 24, 18, 48),)),
        ((20, 25), (60, 25), (100, 25)),
        20.0,
        (18, 18),
        lens,
        100,
        lens,
        60,
        (5, 3, 3),
        over_rock=2,
        way=-1,
    ),
    Scene(
        Box(
            120,
            60,
            56,
            1.34,
            0.005,
            0.004,
            dark_back=True,
            ripple=0.03,
            rocks=(rock(20, 30, 30, 26, 20, 56), rock(80, 24, 36, 22, 24, 56)),
        ),
        ((30, 30), (90, 30)),
        20.0,
        (36, 14),
        reflector,
        95,
        reflector,
        60,
        (5, 3, 4),
        added=(60, 30),
    ),
    Scene(
        Box(75, 50, 45, 1.34, 0.003, 0.008, bottom=0.5, rocks=(rock(26, 24, 26, 20, 18, 45),)),
        ((19, 25), (56, 25)),
        20.0,
        (20, 20),
        bare,
        90,
        lens,
        55,
        (4, 3, 3),
        round_face=True,
        over_rock=0,
    ),
    Scene(
        Box(
            150,
            60,
            58,
            1.34,
            0.003,
            0.003,
            ripple=0.06,
            bottom=0.15,
            rocks=(rock(30, 28, 30, 30, 20, 58), rock(96, 30, 38, 30, 22, 58)),
        ),
        ((25, 30), (75, 30), (125, 30)),
        20.0,
        (22, 22),
        lens,
        80,
        reflector,
        50,
        (6, 3, 3),
    ),
)
