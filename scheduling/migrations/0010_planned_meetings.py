"""Each meeting of a weekly class learns when it was planned to be."""

import datetime as dt
import zoneinfo

from django.db import migrations

WEEK = dt.timedelta(days=7)


def plan(apps, _schema_editor):
    """The time of the series on its day of that week; whether it was moved since, nobody wrote down."""
    sessions = apps.get_model("scheduling", "Session").objects.filter(series__isnull=False)
    for session in sessions.select_related("series__studio"):
        session.planned_at = planned(session, session.series)
        session.save(update_fields=["planned_at"])


def planned(session, series):
    """By the clock of the studio at which the series was booked."""
    zone = zoneinfo.ZoneInfo(series.studio.time_zone)
    days = (session.starts_at.astimezone(zone).date() - series.first_day).days
    day = series.first_day + round(days / 7) * WEEK
    return dt.datetime.combine(day, series.time, zone).astimezone(dt.UTC)


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0009_calendars")]

    operations = [migrations.RunPython(plan, migrations.RunPython.noop)]
