"""Consent rules as starting points, one row for each law read. None of them is legal advice.

Each row says where it was read and how sure that is. A shop picks one, checks its local law and owns the choice; the
program never claims compliance. Where the text read says nothing on tax, the stricter of both readings is taken.
Only laws whose threshold was read in a publication are here; rows known from memory or second hand are left out.
"""

from dataclasses import dataclass, replace
from decimal import Decimal

from estimates.calc.consent import STRICTEST, ConsentRule

CHECK = "Check local law before you rely on this. It may have changed, or may not cover your work."
TEN = Decimal(10)
# A rule on the price alone: the text read makes neither date, method nor item count by itself.
PRICE_ONLY = ConsentRule(is_later_date_counted=False, is_changed_method_counted=False, is_new_item_counted=False)
TEN_PERCENT = replace(PRICE_ONLY, combine="percent", pct=TEN)
NOT_STATED = "not stated on the pages read"


@dataclass(frozen=True)
class StartingPoint:
    """A named rule to start from. words: what was read, in our words; covers_*: whether it reaches such a coach."""

    key: str
    place: str
    law: str
    rule: ConsentRule
    words: str
    source: str
    note: str = ""
    covers_motorhome: str = NOT_STATED
    covers_travel_trailer: str = NOT_STATED
    status: str = "published"

    @property
    def label(self) -> str:
        """The row as it is offered for choosing; always with the words to check local law."""
        note = f" {self.note}" if self.note else ""
        return f"{self.place} ({self.law}): {self.words}{note} {CHECK}"


STARTING_POINTS = (
    StartingPoint(
        key="strictest",
        place="Anywhere",
        law="the shop's own rule",
        rule=STRICTEST,
        words="Ask for any added cent, any new, changed or left out work and any later date.",
        source="the union of 16 CCR 3354 (California) and ATCP 132.06 (Wisconsin)",
        status="derived",
        covers_motorhome="yes",
        covers_travel_trailer="yes",
    ),
    StartingPoint(
        key="florida",
        place="Florida",
        law="Fla. Stat. 559.901-559.9221; 559.909(1)(b)",
        rule=replace(
            PRICE_ONLY, combine="greater", pct=TEN, dollar_usd=TEN, cap_usd=Decimal(50), is_new_item_counted=True
        ),
        words="Ask above the larger of 10 % and $10, but never more than $50; the owner authorises additional work.",
        source="lawserver.com florida_statutes_559-909 (current 2024); freshfromflorida.com Motor Vehicle Repair",
        note="Estimates above $100.",
        covers_motorhome="yes, recreational vehicles are listed",
        covers_travel_trailer="no, trailers without motive power are excluded",
    ),
    StartingPoint(
        key="california",
        place="California",
        law="Bus. & Prof. Code 9884.9; 16 CCR 3353, 3353.1, 3354, 3358",
        rule=replace(PRICE_ONLY, is_changed_method_counted=True, is_new_item_counted=True),
        words="Ask for any amount above the authorised price and any change of method or parts on an itemised order.",
        source="govt.westlaw.com calregs 16 CCR 3354; law.cornell.edu/regulations/california/16-CCR-3358",
        note="16 CCR 3353 was amended on 2025-05-29.",
    ),
    StartingPoint(
        key="washington",
        place="Washington",
        law="RCW 46.71.015, .025, .031",
        rule=replace(TEN_PERCENT, base="pretax"),
        words="Ask above 110 % of the written estimate, sales tax left out.",
        source="dor.wa.gov/book/export/html/1294; app.leg.wa.gov RCW 46.71.015",
        note="Estimates above $100. The text of RCW 46.71.025 itself was not read.",
    ),
    StartingPoint(
        key="michigan",
        place="Michigan",
        law="1974 PA 300; MCL 257.1302a, 257.1307e, 257.1332",
        rule=replace(PRICE_ONLY, combine="lesser", pct=TEN, dollar_usd=TEN),
        words="Ask above the smaller of 10 % and $10.",
        source="legislature.mi.gov MCL 257.1307e; lawserver.com michigan_laws_257-1307e; michigan.gov sos 28761",
        note="Estimates above $50. The figures are from an older agency page; MCL 257.1332 was not confirmed.",
        covers_motorhome="yes",
        covers_travel_trailer="yes, a trailer as the vehicle code defines it",
    ),
    StartingPoint(
        key="illinois",
        place="Illinois",
        law="815 ILCS 306/15, /25; body work 815 ILCS 308/15",
        rule=TEN_PERCENT,
        words="Ask above 10 % over the estimate.",
        source="ilga.gov ActID 2324 (306/15); lawserver.com 815_ilcs_306_25; self-law.org 308/15",
        note="Estimates above $100.",
    ),
    StartingPoint(
        key="illinois_price_limit",
        place="Illinois, with a written price limit",
        law="815 ILCS 306/15, /25; body work 815 ILCS 308/15",
        rule=PRICE_ONLY,
        words="Ask for any amount above the price limit that the owner wrote.",
        source="ilga.gov ActID 2324 (306/15); lawserver.com 815_ilcs_306_25; self-law.org 308/15",
    ),
    StartingPoint(
        key="maryland",
        place="Maryland",
        law="Com. Law 14-1002(b), 14-1008",
        rule=replace(TEN_PERCENT, is_new_item_counted=True),
        words="Ask above 10 % over the written estimate, and always for work that is not on it.",
        source="codes.findlaw.com md-code-coml-sect-14-1002; Md. Com. 14-1008 (casetext copy)",
        note="Estimates above $50.",
    ),
    StartingPoint(
        key="ohio",
        place="Ohio",
        law="Ohio Adm. Code 109:4-3-13",
        rule=TEN_PERCENT,
        words="Ask above 10 % over the estimate, before the repairs are finished.",
        source="regulations.justia.com Ohio title 109-4, section 109-4-3-13",
        note="Estimates above $50; county rules can be stricter.",
    ),
    StartingPoint(
        key="wisconsin",
        place="Wisconsin",
        law="ATCP 132.04, 132.06",
        rule=replace(STRICTEST, base="pretax", is_changed_method_counted=False),
        words="Ask for any price above the estimate, sales tax left out, any repair beyond those authorised and any "
        "date later than the one given.",
        source="docs-preview.legis.wisconsin.gov ATCP 132.06, 132.01(7), 132.10; casetext ATCP 132.03",
        note="Estimates above $50.",
        covers_motorhome="yes, of any weight",
        covers_travel_trailer="no (from memory: self-propelled vehicles only)",
    ),
    StartingPoint(
        key="north_carolina",
        place="North Carolina",
        law="G.S. 20-354.2, .3, .5",
        rule=TEN_PERCENT,
        words="Ask above 10 % over the written estimate.",
        source="ncga.state.nc.us GS_20-354.2",
        note="Estimates above $350. A shop that works on the coach part of a recreational vehicle alone is left out.",
        covers_motorhome="yes, but see the note",
        covers_travel_trailer="no, trailers are excluded",
    ),
    StartingPoint(
        key="alaska",
        place="Alaska",
        law="AS 45.45.140",
        rule=PRICE_ONLY,
        words="Ask before any added charge.",
        source="laws9.com alaska sec-45-45-140",
        note="Where an estimate is asked for.",
    ),
    StartingPoint(
        key="ontario",
        place="Ontario",
        law="Consumer Protection Act 2002 Part VI s.56-58; O. Reg. 17/05 s.48+",
        rule=TEN_PERCENT,
        words="Ask above 10 % over the written estimate.",
        source="gov.on.ca MGS STEL02_045949 (archived); ciia.com/provinces/ontario/reg.html",
        covers_motorhome="motor vehicles as the Highway Traffic Act defines them",
    ),
)


def starting_point(key: str) -> StartingPoint:
    """A row by its key. Raises ValueError for an unknown one."""
    for row in STARTING_POINTS:
        if row.key == key:
            return row
    raise ValueError(f"key must be one of {', '.join(row.key for row in STARTING_POINTS)}, got {key!r}")
