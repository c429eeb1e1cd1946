"""Which remedies stand beside each other for a finding."""

from collections.abc import Sequence

from django.db.models import Q

from jobs.models import Finding, Remedy, RemedyMatch, StandardRemedy

# More than the recommended one and two others to compare it with would only confuse.
MOST_CHOICES = 3


def fitting_remedies(finding: Finding) -> list[StandardRemedy]:
    """The shop's remedies that fit the finding's kind, verdict, part and face, the closest fit first."""
    matches = RemedyMatch.objects.filter(
        Q(kind__in=["", finding.kind]),
        Q(verdict__in=["", finding.standing_verdict.value]),
        Q(member__in=["", finding.member]),
        Q(face__in=["", finding.face]),
        standard__shop=finding.job.shop,
        standard__is_active=True,
    ).select_related("standard")
    closest: dict[int, tuple[int, StandardRemedy]] = {}
    for match in matches:
        said = sum(bool(each) for each in (match.kind, match.verdict, match.member, match.face))
        known = closest.get(match.standard_id, (0, match.standard))
        closest[match.standard_id] = max((said, match.standard), known, key=_fit)
    return [standard for _, standard in sorted(closest.values(), key=lambda found: (-found[0], found[1].pk))]


def stand_beside(finding: Finding, first: Remedy) -> list[Remedy]:
    """Put the fitting remedies beside the recommended one. Runs inside the caller's transaction."""
    others = [each for each in fitting_remedies(finding) if each != first.standard]
    return [first, *_add(finding, others[: MOST_CHOICES - 1], after=first.position)]


def _add(finding: Finding, standards: Sequence[StandardRemedy], *, after: int) -> list[Remedy]:
    return [
        Remedy.objects.create(finding=finding, standard=standard, position=position)
        for position, standard in enumerate(standards, start=after + 1)
    ]


def _fit(found: tuple[int, StandardRemedy]) -> int:
    return found[0]
