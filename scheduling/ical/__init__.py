"""Calendar files: events in, iCalendar bytes out. Pure: the icalendar library, and nothing of Django.

It stands below the faces, because a feed, a command and a mail all send the same file.
"""
