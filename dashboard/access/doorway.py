"""The page that asks for the passphrase; it needs nothing else of the dashboard."""

from __future__ import annotations

import html
from string import Template
from urllib.parse import parse_qs

from dashboard import words, words_access
from dashboard.look import DAY, LETTERS, NIGHT, Look

SIGN_IN = "/sign-in"
SIGN_OUT = "/sign-out"
SIGNED_IN = "/signed-in"
"""Says whether the session is open, without being a use of it."""
MOST_BYTES = 8192
"""Bytes that a form of the door may have."""
_PAGE = Template("""<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>$name: $title</title><link rel="icon" href="data:,">
<style>
:root { color-scheme: light dark; $day }
@media (prefers-color-scheme: dark) { :root { $night } }
body { margin: 0; background: var(--paper); color: var(--ink); font: 17px/1.5 $letters; }
main { max-width: 24rem; margin: 12vh auto 0; padding: 0 1.2rem; }
h1 { font-family: serif; font-size: 2.1rem; margin: 0 0 .6rem; }
label { display: block; margin-top: 1.4rem; font-weight: 600; }
input, button { box-sizing: border-box; width: 100%; min-height: 3rem; margin-top: .4rem; padding: 0 .8rem;
  font: inherit; border: 1px solid var(--line); border-radius: 4px; }
input { background: var(--card); color: var(--ink); }
button { background: var(--accent); color: var(--on-accent); font-weight: 600; margin-top: 1rem;
  cursor: pointer; }
:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
.grave { color: var(--warning); border-left: 4px solid var(--warning); padding-left: .8rem; }
</style></head>
<body><main>
<h1>$name</h1>
<p>$introduction</p>
$open_line
<form method="post" action="$action">
<label for="passphrase">$label</label>
<input id="passphrase" name="passphrase" type="password" required autofocus autocomplete="current-password"
 autocapitalize="none" autocorrect="off" spellcheck="false"$described>
<input type="hidden" name="next" value="$onward">
<button>$go_in</button>
</form>
$trouble
</main></body></html>
""")


def page(onward: str, trouble: str = "", *, encrypted: bool) -> str:
    """The page as HTML.

    Args:
        onward: the path that was asked for.
        trouble: what is in the way; "" when nothing is.
        encrypted: whether nobody can read along; if not, the page says so.
    """
    return _PAGE.substitute(
        name=words.NAME,
        title=words_access.TITLE,
        introduction=words_access.INTRODUCTION,
        label=words_access.LABEL,
        go_in=words_access.GO_IN,
        letters=LETTERS,
        day=_colours(DAY),
        night=_colours(NIGHT),
        action=SIGN_IN,
        onward=html.escape(onward),
        open_line="" if encrypted else _grave(words_access.NOT_ENCRYPTED),
        described=' aria-describedby="trouble"' if trouble else "",
        trouble=_grave(trouble, ' id="trouble" role="alert"') if trouble else "",
    )


def read_form(body: bytes) -> tuple[str, str]:
    """The passphrase and the path asked for, as the page sends them; "" and "/" where they are not there."""
    fields = parse_qs(body.decode("utf-8", "replace"), max_num_fields=10)
    return fields.get("passphrase", [""])[0], inside(fields.get("next", ["/"])[0])


def inside(path: str) -> str:
    """The path, when it stays on this dashboard; else the first page."""
    is_ours = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if is_ours and path.split("?")[0] not in (SIGN_IN, SIGN_OUT) else "/"


def _colours(look: Look) -> str:
    named = {
        "paper": look.paper,
        "card": look.card,
        "ink": look.ink,
        "line": look.line,
        "accent": look.accent,
        "on-accent": look.on_accent,
        "warning": look.warning,
    }
    return " ".join(f"--{name}: {colour};" for name, colour in named.items())


def _grave(text: str, more: str = "") -> str:
    return f'<p class="grave"{more}>{html.escape(text)}</p>'
