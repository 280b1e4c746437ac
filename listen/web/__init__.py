"""The local web app: the chair screen, the desk pages and the sound of a browser's microphone."""

from listen.web.app import create_app
from listen.web.settings import WebSettings

__all__ = ["WebSettings", "create_app"]
