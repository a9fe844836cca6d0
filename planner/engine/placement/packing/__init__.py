"""Packing: how many desktops of each size go on which host. Whole numbers only.

Sizes are counted per class (desktops that ask the same), never one by one, so that a thousand
desktops cost no more than ten. Three things bind: memory and vCPU of a host, and the disk pool
its desktops live in, which may be one host's own or shared by several.

First quick ways to place (``quick``), then quick upper bounds on what could be placed at all
(``bounds``); only where the two disagree is the exact solver asked (``exact``).
"""

from planner.engine.placement.packing.answers import more, one_down, pack
from planner.engine.placement.packing.problem import Bin, Class, Packed, Problem, Work

__all__ = ["Bin", "Class", "Packed", "Problem", "Work", "more", "one_down", "pack"]
