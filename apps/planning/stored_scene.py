"""The stored form of what a plan lies in: the tank and its rocks, each key by name."""

from apps.photics.ground.scene import Brace, Rock, Tank, Window
from apps.photics.ground.shape import BOX
from apps.planning.documents import Document, document, each, maybe, number, pair, text


def tank_document(tank: Tank) -> Document:
    return {
        "length_cm": tank.length_cm,
        "width_cm": tank.width_cm,
        "depth_cm": tank.depth_cm,
        "back_pane": tank.back_pane,
        "bottom": tank.bottom,
        "shape": tank.shape,
        "bow_cm": tank.bow_cm,
        "outline_cm": [list(corner) for corner in tank.outline_cm],
        "braces": [brace_document(brace) for brace in tank.braces],
        "overflow": None if tank.overflow is None else rock_document(tank.overflow),
        "cover_transmission": tank.cover_transmission,
        "window": None if tank.window is None else window_document(tank.window),
    }


def read_tank(value: object) -> Tank:
    data = document(value)
    return Tank(
        length_cm=number(data["length_cm"]),
        width_cm=number(data["width_cm"]),
        depth_cm=number(data["depth_cm"]),
        back_pane=text(data["back_pane"]),
        bottom=text(data["bottom"]),
        # Plans of before tanks had a shape are of open boxes.
        shape=text(data.get("shape", BOX)),
        bow_cm=number(data.get("bow_cm", 0.0)),
        outline_cm=each(data.get("outline_cm", []), pair),
        braces=each(data.get("braces", []), read_brace),
        overflow=maybe(data.get("overflow"), read_rock),
        cover_transmission=number(data.get("cover_transmission", 1.0)),
        window=maybe(data.get("window"), read_window),
    )


def brace_document(brace: Brace) -> Document:
    return {
        "x_cm": brace.x_cm,
        "y_cm": brace.y_cm,
        "length_cm": brace.length_cm,
        "width_cm": brace.width_cm,
        "transmission": brace.transmission,
    }


def read_brace(value: object) -> Brace:
    data = document(value)
    return Brace(
        x_cm=number(data["x_cm"]),
        y_cm=number(data["y_cm"]),
        length_cm=number(data["length_cm"]),
        width_cm=number(data["width_cm"]),
        transmission=number(data["transmission"]),
    )


def window_document(window: Window) -> Document:
    return {"side": window.side, "par_umol": window.par_umol}


def read_window(value: object) -> Window:
    data = document(value)
    return Window(side=text(data["side"]), par_umol=number(data["par_umol"]))


def rock_document(rock: Rock) -> Document:
    return {
        "x_cm": rock.x_cm,
        "y_cm": rock.y_cm,
        "depth_cm": rock.depth_cm,
        "length_cm": rock.length_cm,
        "width_cm": rock.width_cm,
        "height_cm": rock.height_cm,
    }


def read_rock(value: object) -> Rock:
    data = document(value)
    return Rock(
        x_cm=number(data["x_cm"]),
        y_cm=number(data["y_cm"]),
        depth_cm=number(data["depth_cm"]),
        length_cm=number(data["length_cm"]),
        width_cm=number(data["width_cm"]),
        height_cm=number(data["height_cm"]),
    )
