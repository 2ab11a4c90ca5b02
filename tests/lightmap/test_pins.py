"""Pins: who registers is asked, in an order that gives stable numbers."""

import pytest

from apps.lightmap import pins
from apps.lightmap.pins import PINS, Pin


@pytest.fixture
def no_providers(monkeypatch):
    monkeypatch.setattr(PINS, "providers", [])


def test_no_provider_no_pins(no_providers, tank):
    assert pins.pins_for(tank) == ()


def test_pins_of_all_providers_come_by_name(no_providers, tank):
    PINS.add(lambda tank, day: [Pin("torch", 1, 1, 1), Pin("Acan", 2, 2, 2)])
    PINS.add(lambda tank, day: [Pin("Maxima", 3, 3, 3)])
    assert [pin.name for pin in pins.pins_for(tank)] == ["Acan", "Maxima", "torch"]


def test_provider_is_given_the_tank(no_providers, tank):
    PINS.add(lambda owner_tank, day: [Pin(owner_tank.name, 1, 1, 1)])
    assert pins.pins_for(tank)[0].name == tank.name


@pytest.mark.parametrize(
    ("light", "words"),
    [
        ((99, 90, 110), "probably below its band"),
        ((99, 90, 99.5), "below its band"),
        ((100, 100, 200), "within its band"),
        ((200, 190, 210), "probably within its band"),
        ((201, 199, 210), "probably above its band"),
        ((220, 201, 240), "above its band"),
        (None, "light unknown"),
    ],
)
def test_state_says_how_light_and_band_stand(light, words):
    assert pins.state_in_band(light, 100, 200).words == words


def test_state_without_band_is_unknown():
    assert pins.state_in_band((100, 90, 110), None, None).key == "unknown"
