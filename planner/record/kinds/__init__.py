"""Kinds of fields: what a field holds, and everything that follows from it, one object a kind."""

from planner.record.kinds.amounts import NUMBERS_OF_THINGS, Amount, Length, Number, Percent, Whole
from planner.record.kinds.base import NOTHING, Described, Kind, bare, parts
from planner.record.kinds.chosen import (
    AlwaysChosen,
    AlwaysChosenNumber,
    Choice,
    NumberChoice,
    Several,
)
from planner.record.kinds.moments import Date, Time, YesNo, show_date
from planner.record.kinds.references import (
    Reference,
    References,
    Sites,
    name_of,
    named_so,
    record_named,
)
from planner.record.kinds.texts import (
    Address,
    Address6,
    Addresses,
    Email,
    Items,
    Long,
    Mac,
    Names,
    Ports,
    Prefix,
    Prefix6,
    Spelled,
    Text,
    Zone,
)
from planner.record.kinds.told import AnyField, AnyRecord, OfBuilt, Planned, Step, Steps

TEXT, LONG, EMAIL = Text(), Long(), Email()
WHOLE, NUMBER, PERCENT, LENGTH = Whole(), Number(), Percent(), Length()
CHOICE, ALWAYS_CHOSEN, SEVERAL = Choice(), AlwaysChosen(), Several()
NUMBER_CHOICE, ALWAYS_CHOSEN_NUMBER = NumberChoice(), AlwaysChosenNumber()
YES_NO, DATE, TIME, ZONE = YesNo(), Date(), Time(), Zone()
ADDRESS, ADDRESS6, ADDRESSES = Address(), Address6(), Addresses()
PREFIX, PREFIX6, MAC = Prefix(), Prefix6(), Mac()
NAMES, PORTS = Names(), Ports()
RECORD, RECORDS, SITES = Reference(), References(), Sites()
STEP, STEPS = Step(), Steps()
ANY_RECORD, ANY_FIELD, PLANNED = AnyRecord(), AnyField(), Planned()

__all__ = [
    "ADDRESS",
    "ADDRESS6",
    "ADDRESSES",
    "ALWAYS_CHOSEN",
    "ALWAYS_CHOSEN_NUMBER",
    "ANY_FIELD",
    "ANY_RECORD",
    "CHOICE",
    "DATE",
    "EMAIL",
    "LENGTH",
    "LONG",
    "MAC",
    "NAMES",
    "NOTHING",
    "NUMBER",
    "NUMBERS_OF_THINGS",
    "NUMBER_CHOICE",
    "PERCENT",
    "PLANNED",
    "PORTS",
    "PREFIX",
    "PREFIX6",
    "RECORD",
    "RECORDS",
    "SEVERAL",
    "SITES",
    "STEP",
    "STEPS",
    "TEXT",
    "TIME",
    "WHOLE",
    "YES_NO",
    "ZONE",
    "Address",
    "Address6",
    "Addresses",
    "AlwaysChosen",
    "AlwaysChosenNumber",
    "Amount",
    "AnyField",
    "AnyRecord",
    "Choice",
    "Date",
    "Described",
    "Email",
    "Items",
    "Kind",
    "Length",
    "Long",
    "Mac",
    "Names",
    "Number",
    "NumberChoice",
    "OfBuilt",
    "Percent",
    "Planned",
    "Ports",
    "Prefix",
    "Prefix6",
    "Reference",
    "References",
    "Several",
    "Sites",
    "Spelled",
    "Step",
    "Steps",
    "Text",
    "Time",
    "Whole",
    "YesNo",
    "Zone",
    "bare",
    "name_of",
    "named_so",
    "parts",
    "record_named",
    "show_date",
]
