# SPDX-License-Identifier: GPL-3.0-or-later
"""What a browser sends to a widget's picture, made by hand: the same messages, without a browser."""


def _where(live, ax, place):
    """Canvas coordinates as a browser counts them: from the top, in pixels."""
    x, y = ax.transData.transform(place)
    return {"x": float(x), "y": float(live.figure.bbox.height - y)}


def send(live, **message):
    live.canvas._handle_message(None, {"guiEvent": {}, "modifiers": [], "step": None, **message}, [])


def press(live, ax, place, kind="button_press"):
    send(live, type=kind, button=0, buttons=1, **_where(live, ax, place))


def move(live, ax, place):
    send(live, type="motion_notify", button=0, buttons=1, **_where(live, ax, place))


def release(live, ax, place):
    send(live, type="button_release", button=0, buttons=0, **_where(live, ax, place))


def drag(live, ax, *places):
    press(live, ax, places[0])
    for place in places:
        move(live, ax, place)
    release(live, ax, places[-1])


def click(live, ax, place):
    press(live, ax, place)
    release(live, ax, place)


def key(live, *names):
    """Keys by the names that a browser gives them, e.g. 'ArrowLeft', 'shift+ArrowUp', ' '."""
    for name in names:
        before, plus, last = name.rpartition("+")
        send(live, type="key_press", key=f"{before}{plus}k{last}")
        send(live, type="key_release", key=f"{before}{plus}k{last}")
