"""The site's own counter."""

from django.db.models import F

from sites.models import Site


def touch(site: Site) -> None:
    """Raises the site's counter: whoever has a page of it open is told."""
    Site.objects.filter(pk=site.pk).update(counter=F("counter") + 1)
