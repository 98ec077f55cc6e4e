"""The one settings file, read from the environment. README lists every name."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from scheduling.project import environment

BASE_DIR = Path(__file__).resolve().parents[2]
DATA_DIR = Path(environment.text("LEHRBOOK_DATA_DIR") or BASE_DIR / "var")

DATABASE_URL = environment.text("LEHRBOOK_DATABASE_URL")
REDIS_URL = environment.text("LEHRBOOK_REDIS_URL")
DEBUG = environment.flag("LEHRBOOK_DEBUG")
SECRET_KEY = environment.secret_key(embedded=not (DATABASE_URL or REDIS_URL), kept_in=DATA_DIR / "secret_key")
ALLOWED_HOSTS = environment.names("LEHRBOOK_HOSTS", "127.0.0.1,localhost,[::1]")
CSRF_TRUSTED_ORIGINS = environment.names("LEHRBOOK_TRUSTED_ORIGINS")
PUBLIC_ADDRESS = environment.address("LEHRBOOK_ADDRESS")
HTTPS_ONLY = environment.flag("LEHRBOOK_HTTPS")

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_htmx",
    "axes",
    "studios",
    "scheduling",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "scheduling.project.policy.with_policy",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "scheduling.project.lengths.no_length_of_nothing",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "scheduling.project.faces.face_named",
    "scheduling.project.reading.read_by",
    "scheduling.web.once.Once",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "scheduling.project.urls"
WSGI_APPLICATION = "scheduling.project.wsgi.application"
ASGI_APPLICATION = "scheduling.project.asgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "scheduling" / "templates"],  # before the admin's own
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["scheduling.templatetags.once", "scheduling.templatetags.dates"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    }
]

DATABASES = {"default": environment.database(DATABASE_URL, embedded_file=DATA_DIR / "lehrbook.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studios.Person"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("MinimumLengthValidator", "CommonPasswordValidator", "UserAttributeSimilarityValidator")
]
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
SESSION_ENGINE = "scheduling.project.sessions"
# A link in a mail (a new password, an address to be confirmed) is good for a day.
PASSWORD_RESET_TIMEOUT = 24 * 3600
# Attempts are counted for an address from one place, so that nobody is locked out by a stranger elsewhere.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True
AXES_USERNAME_FORM_FIELD = "username"
AXES_USERNAME_CALLABLE = "scheduling.project.attempts.address_typed"
AXES_CLIENT_IP_CALLABLE = "scheduling.project.attempts.client_address"
AXES_LOCKOUT_CALLABLE = "scheduling.project.attempts.too_many"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "week"
LOGOUT_REDIRECT_URL = "sign-in"

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [BASE_DIR / "scheduling" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS_ONLY
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS_ONLY else 0
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS_ONLY else None
X_FRAME_OPTIONS = "DENY"

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.SessionAuthentication",
        "rest_framework.authentication.TokenAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "PAGE_SIZE": 50,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "scheduling.api.problems.handle",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Lehrbook",
    "DESCRIPTION": "Studios, equipment, classes, torch seats, firings and calendars for hot glass.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    "ENUM_NAME_OVERRIDES": {
        "LineStatus": "scheduling.models.LineStatus",
        "EquipmentKind": "studios.models.EquipmentKind",
        "FitRanges": "studios.models.Ranges",
        "SupplyKind": "studios.models.SupplyKind",
        "PhaseKind": "scheduling.models.occupancy.PHASES",
        "BookingStatus": "scheduling.models.BookingStatus",
        "SeatStatus": "scheduling.models.SeatStatus",
        "RefillStatus": "scheduling.models.RefillStatus",
        "ActualKind": "scheduling.models.ActualKind",
        "AuditFace": "scheduling.models.Face",
        "MessageState": "scheduling.selectors.outbox.MessageState",
    },
}

CELERY_BROKER_URL = REDIS_URL or "memory://localhost/"
CELERY_TASK_ALWAYS_EAGER = not REDIS_URL
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_PUBLISH_RETRY = False
# However long Redis is away, a worker waits for it.
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_TRANSPORT_OPTIONS = {"socket_connect_timeout": 2, "socket_timeout": 5}
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# Which rounds there are, and how often each is due, stands in scheduling/services/rounds.py.
CELERY_BEAT_SCHEDULE = {
    "rounds": {"task": "scheduling.make_rounds", "schedule": 15.0, "options": {"expires": 15}},
}
# Whether a serving process has a thread beside its requests (scheduling/project/pulse.py).
PULSE = environment.flag("LEHRBOOK_PULSE", "1")

# What goes wrong is said where the server is started, not only to administrators by mail.
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}

EMAIL_BACKEND = (
    "django.core.mail.backends.smtp.EmailBackend"
    if environment.text("LEHRBOOK_SMTP_HOST")
    else "django.core.mail.backends.console.EmailBackend"
)
EMAIL_HOST = environment.text("LEHRBOOK_SMTP_HOST")
EMAIL_PORT = environment.number("LEHRBOOK_SMTP_PORT", 587)
EMAIL_HOST_USER = environment.text("LEHRBOOK_SMTP_USER")
EMAIL_HOST_PASSWORD = environment.text("LEHRBOOK_SMTP_PASSWORD")
EMAIL_USE_TLS = bool(EMAIL_HOST)
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = environment.text("LEHRBOOK_MAIL_FROM", "lehrbook@localhost")
