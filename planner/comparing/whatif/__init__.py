"""What if: the plan with some of its values changed, beside the plan as it stands. Nothing is saved here."""

from planner.comparing.whatif.changes import CHANGEABLE, Change, Copies, apply
from planner.comparing.whatif.figures import Comparison, Figure, Moved, compare, figures
from planner.comparing.whatif.questions import QUESTIONS, Answer, ask

__all__ = [
    "CHANGEABLE",
    "QUESTIONS",
    "Answer",
    "Change",
    "Comparison",
    "Copies",
    "Figure",
    "Moved",
    "apply",
    "ask",
    "compare",
    "figures",
]
