"""Whether a window can open here. Qt itself would end the process without a word that a user understands."""

from __future__ import annotations

import ctypes
import os
import sys

NO_DISPLAY = ("There is no display to open a window on. Start this on a desktop, over ssh -X, or with DISPLAY naming "
              "an X server that answers; the commands work without one: plumbfall --help.")


def can_open_window() -> bool:
    """Asks the X server itself, where Qt would use one."""
    if not sys.platform.startswith("linux") or os.environ.get("QT_QPA_PLATFORM") or os.environ.get("WAYLAND_DISPLAY"):
        return True
    if not os.environ.get("DISPLAY"):
        return False
    try:
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return False
    xcb.xcb_connect.restype = ctypes.c_void_p
    connection = ctypes.c_void_p(xcb.xcb_connect(None, None))
    broken = xcb.xcb_connection_has_error(connection)
    xcb.xcb_disconnect(connection)
    return not broken
