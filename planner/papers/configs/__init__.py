"""Configurations to hand to the network's owner: DHCP, zones, firewall rules, a hosts file.

::

    kind = CONFIGS["zones"]
    edition = Edition(day, revision="B")
    config = kind.make(plan, edition)  # config.text, config.files, config.problems
    content = kind.packed(config, edition)  # as it is downloaded, named kind.file_name(plan, edition)
    kind.lacks(Ground(plan))  # the problems alone

They are written from checked values only. What cannot be said safely is left out and told in
``problems``, each with the place where a person would mend it.
"""

from planner.papers.configs.ground import Ground
from planner.papers.configs.parts import Config, Kind
from planner.papers.configs.problems import Edition, Problem
from planner.papers.configs.table import CONFIGS

__all__ = ["CONFIGS", "Config", "Edition", "Ground", "Kind", "Problem"]
