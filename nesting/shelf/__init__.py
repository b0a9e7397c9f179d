"""The shelf: a folder of hide files, what was cut from it, and what is left.

::

    SHELF/
      shoulder-04.hide.json     a hide on the shelf, one file each
      shoulder-02-r1.hide.json  a remnant: a hide like any other, its ancestry says of which
      cut/shoulder-02.hide.json the files of hides that were cut: kept, and no longer on the shelf
      journal.jsonl             one line of JSON a layout cut: what, when, yield, cost, remnants
      unfinished-cut.json       only while a cut is being entered, or after that was broken off
      .shelf-lock               held by the command that reads or changes the shelf, and gone after it

A cut is decided by one rename, that of ``unfinished-cut.json``, which holds all that is to be done:
before it nothing has changed, and after it every command that opens the shelf first does what is left
of it (write-ahead logging with redo: Gray and Reuter, *Transaction Processing*, 1993, from memory).
"""

from nesting.shelf.folder import Shelf, Shelved, open_shelf
from nesting.shelf.journal import Cut, read_journal
from nesting.shelf.keeping import Kept, keep_layout
from nesting.shelf.reported import OtherReportError, Reported, read_reported
from nesting.shelf.stock import Group, by_weight, share_of_used

__all__ = [
    "Cut",
    "Group",
    "Kept",
    "OtherReportError",
    "Reported",
    "Shelf",
    "Shelved",
    "by_weight",
    "keep_layout",
    "open_shelf",
    "read_journal",
    "read_reported",
    "share_of_used",
]
