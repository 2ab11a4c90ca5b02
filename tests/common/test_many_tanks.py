"""A large site is copied by SQL as its bench needs it: each keeper's tanks alike, with all rows."""

from apps.surveys.models import Reading
from apps.tanks.models import Tank
from tests.benchmarks.many_tanks import grow_site, lay_site


def test_each_copy_has_what_the_first_tank_has(transactional_db):
    laid = lay_site()
    readings = Reading.objects.filter(survey__tank=laid.tank).count()
    grow_site(laid, 30)
    owners = list(Tank.objects.order_by("pk").values_list("owner", flat=True))
    assert len(owners) == 30 and {owners.count(pk) for pk in owners} == {10}
    last = Tank.objects.order_by("pk").last()
    assert Reading.objects.filter(survey__tank=last).count() == readings > 0
