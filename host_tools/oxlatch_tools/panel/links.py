"""Links into the panel, for other commands to print and for people to share."""

from urllib.parse import urlencode

DEFAULT_WEB_PORT = 8765


def tick_link(recording_name: str, tick: int = 0, web_port: int = DEFAULT_WEB_PORT) -> str:
    """The page that shows one tick of a recording which lies in the panel's folder of recordings."""
    return f"http://127.0.0.1:{web_port}/?{urlencode({'recording': recording_name, 'tick': tick})}"
