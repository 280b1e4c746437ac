"""What holds for all tests: nothing reports to anybody, and a busy machine fails none of them."""

from hypothesis import settings

import listen  # noqa: F401  (before any test imports onnxruntime)

settings.register_profile("traycall", deadline=None)
settings.load_profile("traycall")
