"""Hears a request, works out what is meant, and shows it; nothing leaves this machine.

onnxruntime 1.29 and later tell their maker what they run on, from the moment they are imported, unless this
is set before. Processes that are started from here take it over.
"""

import os
import sys
import warnings

_OFF = "ORT_DISABLE_TELEMETRY"

if "onnxruntime" in sys.modules and os.environ.get(_OFF) != "1":
    warnings.warn(
        f"onnxruntime was imported before listen and may report to its maker: import listen first, or set "
        f"{_OFF}=1",
        stacklevel=2,
    )
os.environ[_OFF] = "1"
