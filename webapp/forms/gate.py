"""What is asked at the door: the passcode, and what a device is called."""

from __future__ import annotations

from typing import Annotated

from webapp.forms.kit import Ask, Form

LONGEST_PASSCODE = 200
LONGEST_NAME = 40
CALLED = Ask(
    "What is this device called?",
    help="Changes made on it are noted under this name, as in shop tablet.",
    longest=LONGEST_NAME,
)


class SignInForm(Form):
    """A device at the door."""

    passcode: Annotated[str, Ask("Passcode", kind="password", longest=LONGEST_PASSCODE)]
    called: Annotated[str, CALLED] = "shop tablet"


class PairForm(Form):
    """A tablet that read the code."""

    called: Annotated[str, CALLED] = "shop tablet"


class ConfirmForm(Form):
    """The passcode once more, before what replaces everything."""

    passcode: Annotated[
        str,
        Ask(
            "Passcode",
            help="Asked again on a tablet, since this replaces the whole logbook.",
            kind="password",
            longest=LONGEST_PASSCODE,
        ),
    ]


class PasscodeForm(Form):
    """A new passcode, twice, as it is not seen."""

    passcode: Annotated[
        str,
        Ask(
            "New passcode",
            help="Eight signs or more; three odd words do well. Use one that you use nowhere else.",
            kind="password",
            longest=LONGEST_PASSCODE,
        ),
    ]
    again: Annotated[str, Ask("The same once more", kind="password", longest=LONGEST_PASSCODE)]
