"""An allocation sheet that comes back filled in: what each of its rows would change, before anything does.

A row is laid beside the same row as it left. A cell that reads as it left changes nothing, whatever happened
here since; an empty one neither, and the word *nothing* empties a value. A cell that was filled in is checked by
the record's own form. It changes its field unless somebody changed the same field here since, or the address
is somebody else's: then a person chooses.
"""

from sites.intake.reading_back.as_it_left import edit_counters
from sites.intake.reading_back.looking import WANTED, look
from sites.intake.reading_back.outcome import Change, Row, Seen

__all__ = ["WANTED", "Change", "Row", "Seen", "edit_counters", "look"]
