"""What the porch answers by itself, in words: a request that is too large, or that nobody can read.

Nothing of the house is asked for these pages: they stand here whole, without a style sheet, and hold nothing that came
in. Their status codes are those of RFC 9110 and RFC 6585.
"""

from __future__ import annotations

import html

from waitress.task import ErrorTask

TOO_LARGE = 413
WORDS = {
    400: (
        "This request cannot be read",
        "What came in is no request as a browser sends it. Open the page again and repeat the step.",
    ),
    TOO_LARGE: (
        "This is too large",
        "More was sent at once than this Deskwright takes, and nothing of it was kept. Go back, and send it "
        "in smaller parts: fewer photos at a time, a smaller file, or fewer pasted rows.",
    ),
    431: (
        "The address or its cookies are too long",
        "Remove this site's cookies in the browser, and sign in again.",
    ),
    501: (
        "This is not understood here",
        "It was sent in a way that this Deskwright does not take. Open the page again and repeat the step.",
    ),
}
BROKEN = (
    "Something broke",
    "Nothing you saved is lost. Try again; if it stays, tell whoever runs this Deskwright.",
)
HEADERS = [
    ("Content-Type", "text/html; charset=utf-8"),
    ("Cache-Control", "no-store"),
    ("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'"),
    ("X-Content-Type-Options", "nosniff"),
]


def page(code: int) -> bytes:
    """The page for a status code."""
    title, words = (html.escape(text) for text in WORDS.get(code, BROKEN))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title} – Deskwright</title>\n</head>\n"
        f"<body>\n<main>\n<h1>{title}</h1>\n<p>{words}</p>\n</main>\n</body>\n</html>\n"
    ).encode()


class Refusal(ErrorTask):
    """Answers a request that never reaches the house. It is the last answer on its connection."""

    def execute(self) -> None:
        error = self.request.error
        body = page(error.code)
        self.status = f"{error.code} {error.reason}"
        self.response_headers.extend(HEADERS)
        self.set_close_on_finish()
        self.content_length = len(body)
        self.channel.refused = error.code == TOO_LARGE
        self.write(body)
