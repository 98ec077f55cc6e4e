"""The ASGI entry point. It refuses to serve from a database without its guards."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "scheduling.project.settings")
application = get_asgi_application()

from scheduling import guards  # noqa: E402  (the application registry must be ready)
from scheduling.project import pulse  # noqa: E402  (as above)

guards.require()
pulse.start()
