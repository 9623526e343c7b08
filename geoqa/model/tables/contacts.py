"""Telephone numbers, addresses and folders of persons in what a crew wrote: they stay in the office's own files."""

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

LEFT_OUT = "(left out: it holds a telephone number or an address)"
_SEPARATED = r"(?<![\d.+-])(?:\+?1[-. ])?(?:\(\d{3}\) ?|\d{3}[-. ])\d{3}[-. ]\d{4}(?![.\d])"
_ANNOUNCED = r"\b(?:phone|telephone|tel|cell|mobile|call|text|ph)\b[^\d\n]{0,30}\(?\d[\d() .-]{5,}\d"
_ADDRESS = r"[^\s@,;]+@[^\s@,;]+\.[a-z]{2,}"
CONTACT = re.compile(f"{_SEPARATED}|{_ANNOUNCED}|{_ADDRESS}", re.IGNORECASE)
"""A telephone number as the US writes it, a number that a word announces as one, an e-mail address."""


def with_contact(texts: "pd.Series") -> "pd.Series":
    """Tell which texts hold a telephone number or an e-mail address.

    Parameters
    ----------
    texts : Series of str, with missing values

    Returns
    -------
    Series of bool

    Examples
    --------
    >>> import pandas as pd
    >>> notes = ["cracked", "call R at 555-0134", "701-555-0134", "crew@example.org", "md 6.25, 444000.125 101.5"]
    >>> with_contact(pd.Series([*notes, None], dtype="str")).tolist()
    [False, True, True, True, False, False]
    """
    return texts.map({text: CONTACT.search(text) is not None for text in texts.dropna().unique()}).eq(True)


def file_names(texts: "pd.Series") -> "pd.Series":
    r"""Names of files without the folders they were written with, which name machines and persons.

    Parameters
    ----------
    texts : Series of str, with missing values
        One or several, with semicolons between them.

    Returns
    -------
    Series of str

    Examples
    --------
    >>> import pandas as pd
    >>> file_names(pd.Series([r"C:\Users\somebody\a.jpg; /home/b.jpg", "c.jpg", None], dtype="str")).tolist()
    ['a.jpg; b.jpg', 'c.jpg', nan]
    """
    return texts.str.replace(r"[^;]*[/\\]", "", regex=True).str.replace(r";(?! )", "; ", regex=True)
