"""The timeline in words: what stands above and below it, and what is read out in its place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from planner.papers import fonts
from planner.record import chapters
from planner.stages.day_results import Day, Lane
from planner.stages.day_words import count_words, length_words, number_words
from planner.stages.outline import Outline


def when(day: Day) -> str:
    """The day and its working hours."""
    if day.date:
        date = f"{chapters.show_date(day.date)}, "
    else:
        date = ""
    return f"{date}{day.clock(0)} to {day.clock(day.length)}"


def outcome(day: Day) -> str:
    """When it ends, and on how many of such days in time."""
    finish = day.finish or 0.0
    told = f"Done at {day.clock(finish)} if every step takes its mean time"
    if day.simulated is not None:
        told += f"; by {day.clock(day.length)} on {day.simulated.chance(day.length):.0%} of simulated days"
    return f"{told.replace('%', ' %')}."


def work(day: Day, lane: Lane) -> float:
    """Minutes of a person's work, without the breaks in it."""
    if day.hours is None:
        return lane.minutes
    return sum(day.hours.open_between(bar.start, bar.finish) for bar in lane.bars)


def moved(day: Day) -> list[str]:
    """What has no room on the day, if anything has none."""
    if not day.moved:
        return []
    count, work = count_words(len(day.moved)), length_words(day.moved_work)
    return [
        f"‡ No room on the day, to be done before it: {count}, {work} of work: {numbers(day, day.moved)}."
    ]


def notes(day: Day) -> list[str]:
    """What else is not on the sheet: what is done by then, what gets a day of its own."""
    shares = day.shares
    told = (
        ("Done before the day, by the plan", shares.before),
        ("Done already", shares.done),
        ("On a day of its own, after this one", shares.own),
    )
    return [f"{words}: {numbers(day, steps)}." for words, steps in told if steps]


def numbers(day: Day, chosen: tuple[Outline, ...]) -> str:
    """Steps by their numbers, runs shortened."""
    shares = day.shares
    every = (*day.steps, *day.moved, *shares.before, *shares.done, *shares.own)
    return ", ".join(number_words({one.key for one in chosen}, every))


def description(day: Day, columns: Sequence[Lane], titles: Mapping[str, str]) -> str:
    """All of it for whoever does not see it: how the day ends first, then each person's steps."""
    told = [
        f"{when(day)}.",
        outcome(day),
        *(note.removeprefix("‡ ") for note in moved(day)),
        *notes(day),
    ]
    for lane in columns:
        if lane.person:
            who = lane.person.name
        else:
            who = "Waits"
        steps = [
            f"{day.clock(bar.start)} {bar.number} {titles[bar.key]}{' (critical)' if bar.critical else ''}"
            for bar in lane.bars
        ]
        told.append(f"{who}: {'; '.join(steps)}.")
    return " ".join(told)


def wrapped(notes: Iterable[str], room: float, size: float = 12, most: int = 12) -> Iterator[str]:
    """Lines that fit; a note that needs more than ``most`` of them ends with an ellipsis."""
    for note in notes:
        line, count = "", 0
        for word in note.split():
            longer = f"{line} {word}".strip()
            if line and fonts.width(longer, size) > room:
                count += 1
                if count == most:
                    line += " …"
                    break
                yield line
                line = word
            else:
                line = longer
        yield line
