"""What every answer tells the browser: whom the page may call, and who may show it."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

_INLINE = re.compile(rb"<script>(.*?)</script>", re.DOTALL)


@cache
def security_headers() -> Mapping[str, str]:
    """Headers of every answer.

    Scripts come from the dashboard itself; the one that stands within Streamlit's own page is named by its
    hash. Streamlit writes its styles into the page, and brings a component's script as a blob.
    """
    scripts = " ".join(("'self'", "blob:", *_inline_hashes()))
    policy = {
        "default-src": "'self'",
        "script-src": scripts,
        "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:",
        "media-src": "'self' data: blob:",
        "font-src": "'self' data:",
        "connect-src": "'self' blob: data:",
        "worker-src": "'self' blob:",
        "object-src": "'none'",
        "base-uri": "'self'",
        "form-action": "'self'",
        "frame-ancestors": "'none'",
    }
    return {
        "content-security-policy": "; ".join(f"{what} {whom}" for what, whom in policy.items()),
        "x-frame-options": "DENY",
        "x-content-type-options": "nosniff",
        "referrer-policy": "same-origin",
        "cross-origin-opener-policy": "same-origin",
        "cross-origin-resource-policy": "same-origin",
    }


def _inline_hashes() -> list[str]:
    """Hashes of the scripts that stand within Streamlit's own page."""
    import streamlit

    page = Path(streamlit.__file__).with_name("static") / "index.html"
    found = _INLINE.findall(page.read_bytes())
    return ["'sha256-" + base64.b64encode(hashlib.sha256(one).digest()).decode() + "'" for one in found]
