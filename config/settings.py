"""Every setting, with its switch in the environment. Unsafe values refuse to start.

Two shapes of one service:
- embedded (no PULLBACK_DATABASE_URL): SQLite and an in-memory broker under PULLBACK_HOME, one process;
- full stack (PULLBACK_DATABASE_URL set): PostgreSQL, Redis, any number of web and worker processes.
"""

import contextlib
import ipaddress
import os
import secrets
import sys
import zoneinfo
from pathlib import Path
from typing import Any

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

from inspections.api import lists

BASE_DIR = Path(__file__).resolve().parent.parent


def _flag(name: str, default: bool = False) -> bool:
    value = os.environ.get(name, "1" if default else "0").lower()
    if value not in {"0", "1", "true", "false"}:
        raise ImproperlyConfigured(f"{name} is {value!r}; set it to 1 or 0.")
    return value in {"1", "true"}


def _number(name: str, default: int) -> int:
    value = os.environ.get(name, str(default))
    if not value.isdigit():
        raise ImproperlyConfigured(f"{name} is {value!r}; set it to a whole number.")
    return int(value)


def _kept_secret(path: Path) -> str:
    """Return the embedded service's own secret, made once and readable by its owner only."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        # Whole or not there, whenever this process is killed, and the first of two that start at once.
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
            file.write(secrets.token_urlsafe(48))
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
        draft.unlink()
    return path.read_text()


DATABASE_URL = os.environ.get("PULLBACK_DATABASE_URL", "")
EMBEDDED = not DATABASE_URL
HOME = Path(os.environ.get("PULLBACK_HOME", BASE_DIR / ".pullback"))
DEBUG = _flag("PULLBACK_DEBUG")
TESTING = "pytest" in sys.modules

SECRET_KEY = os.environ.get("PULLBACK_SECRET_KEY", "")
if not SECRET_KEY:
    if not EMBEDDED and not TESTING:
        raise ImproperlyConfigured(
            "PULLBACK_SECRET_KEY is not set; give the full stack a secret of at least 32 characters."
        )
    SECRET_KEY = secrets.token_urlsafe(48) if TESTING else _kept_secret(HOME / "secret_key")
if len(SECRET_KEY) < 32 or len(set(SECRET_KEY)) < 8:
    raise ImproperlyConfigured("PULLBACK_SECRET_KEY is easily guessed; use at least 32 random characters.")

# Loopback only unless told otherwise: the embedded service must not become public by accident.
ALLOWED_HOSTS = os.environ.get("PULLBACK_ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]").split(",")
if "*" in ALLOWED_HOSTS and not DEBUG:
    raise ImproperlyConfigured("PULLBACK_ALLOWED_HOSTS is *; name the hosts that reach this service.")
_IS_LOCAL = set(ALLOWED_HOSTS) <= {"127.0.0.1", "localhost", "[::1]"}
if DEBUG and not _IS_LOCAL:
    raise ImproperlyConfigured("PULLBACK_DEBUG is 1 and other machines reach this service; debugging is for loopback.")

CSRF_TRUSTED_ORIGINS = [origin for origin in os.environ.get("PULLBACK_TRUSTED_ORIGINS", "").split(",") if origin]

INSTALLED_APPS = [
    "inspections",  # first: its templates go before those of the admin site
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "drf_spectacular_sidecar",
]

MIDDLEWARE = [
    "inspections.api.middleware.RequestIdentity",  # outermost: every answer carries a request id
    "inspections.api.observing.Observed",  # a line in the log, a number for monitoring
    "inspections.api.middleware.ClosedUnlessSaid",  # what a browser may load, run and frame
    "inspections.api.middleware.ProblemAnswers",  # whatever Django itself refuses becomes problem+json
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "inspections.api.middleware.BodyLimits",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "inspections.admin.gate.DeskGate",  # second factor, a password of one's own
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "inspections.api.middleware.DeadlocksTriedAgain",  # innermost: it runs the view
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

DATABASES: dict[str, Any]
if EMBEDDED:
    DATABASES = {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": HOME / "pullback.sqlite3",
            "OPTIONS": {
                # Deferred transactions fail at the upgrade to a write lock; immediate ones wait their turn.
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
            },
            # A file, not memory: the web and the worker thread of a test share it as they do in service.
            "TEST": {"NAME": os.environ.get("PULLBACK_TEST_SQLITE", str(HOME / "test.sqlite3"))},
        }
    }
else:
    DATABASES = {
        "default": dj_database_url.parse(
            DATABASE_URL, engine="config.postgresql", conn_max_age=60, conn_health_checks=True
        )
    }
    DATABASES["default"]["OPTIONS"] = {
        "connect_timeout": 5,
        "options": f"-c statement_timeout={_number('PULLBACK_STATEMENT_TIMEOUT_MS', 5000)} -c lock_timeout=4000",
    }

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "inspections.User"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

LANGUAGE_CODE = "en-us"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"
# Where the people at the desk are; the API says every time with its offset and needs none.
DESK_TIME_ZONE = os.environ.get("PULLBACK_TIME_ZONE", "UTC")
if DESK_TIME_ZONE != "UTC" and DESK_TIME_ZONE not in zoneinfo.available_timezones():
    raise ImproperlyConfigured(
        f"PULLBACK_TIME_ZONE is {DESK_TIME_ZONE!r}; set it to a zone by its name, for example America/Chicago."
    )
FORMAT_MODULE_PATH = ["config.formats"]

STATIC_URL = "/static/"
STATIC_ROOT = HOME / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
WHITENOISE_USE_FINDERS = True  # no collectstatic step between a clone and a running service

# Behind a proxy that ends TLS and sets X-Forwarded-Proto: plain HTTP is sent there, and browsers remember it.
HTTPS_ONLY = _flag("PULLBACK_HTTPS_ONLY")
if not EMBEDDED and not _IS_LOCAL and not HTTPS_ONLY:
    raise ImproperlyConfigured(
        "Others reach this service in clear; put it behind a proxy that ends TLS and set PULLBACK_HTTPS_ONLY=1."
    )
if HTTPS_ONLY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$", r"^metrics$"]  # asked from inside, past the proxy
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
SILENCED_SYSTEM_CHECKS = [
    "security.W005",  # whether the other hosts of a domain speak TLS is not this service's to say
    "security.W021",  # same for browsers' lists of such domains
]

# Cookies travel over TLS only, unless the service is on loopback for one machine.
SECURE_COOKIES = _flag("PULLBACK_SECURE_COOKIES", default=not EMBEDDED)
if not SECURE_COOKIES and (HTTPS_ONLY or not _IS_LOCAL):
    raise ImproperlyConfigured("PULLBACK_SECURE_COOKIES is 0 and other machines reach this service; leave it at 1.")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_COOKIES
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"  # a link in a mail still leads to the desk
SESSION_COOKIE_AGE = 12 * 3600  # a working day

# A code beside the password for people at the desk; not for one machine's own embedded service.
SECOND_FACTOR = _flag("PULLBACK_SECOND_FACTOR", default=not DEBUG and not (EMBEDDED and _IS_LOCAL))
if not SECOND_FACTOR and not DEBUG and not _IS_LOCAL:
    raise ImproperlyConfigured("PULLBACK_SECOND_FACTOR is 0 and other machines reach the desk; leave it at 1.")
OTP_TOTP_ISSUER = "Pullback"


def _networks(name: str) -> tuple[Any, ...]:
    parts = [part.strip() for part in os.environ.get(name, "").split(",")]
    try:
        return tuple(ipaddress.ip_network(part) for part in parts if part)
    except ValueError as error:
        raise ImproperlyConfigured(f"{name} is no list of addresses or networks ({error}).") from error


# Proxies of ours; what they say of a client's address in X-Forwarded-For counts, what anybody else says does not.
TRUSTED_PROXIES = _networks("PULLBACK_TRUSTED_PROXIES")
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"

BODY_LIMIT_BYTES = 5_000_000
BODY_DRAIN_BYTES = 8_000_000  # a too large body up to this is read to its end, so that the client reads the answer
DATA_UPLOAD_MAX_MEMORY_SIZE = BODY_LIMIT_BYTES
JSON_DEPTH_LIMIT = 32

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["inspections.api.auth.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["inspections.api.auth.HasScope"],
    "DEFAULT_PARSER_CLASSES": ["inspections.api.wire.StrictJSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["inspections.api.wire.ExactJSONRenderer"],
    "EXCEPTION_HANDLER": "inspections.api.problems.answer",
    "DEFAULT_SCHEMA_CLASS": "inspections.api.schema.OperationSchema",
    "UNAUTHENTICATED_USER": None,
    "URL_FORMAT_OVERRIDE": None,  # the form of an answer is asked for with Accept, nothing else
}

SPECTACULAR_SETTINGS = {
    "TITLE": "Pullback",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "DESCRIPTION": (
        "Camera inspections of house drains: jobs and runs in, graded laterals and repair scopes out.\n\n"
        "Grades, scopes and prices are decision aids: local code, the sewer authority and licensed plumbers "
        "and engineers decide. A recording is not a pressure test."
    ),
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_AUTHENTICATION": [],
    "SERVE_PERMISSIONS": [],
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    # Groups are closed at first: opened all at once, the page stops drawing after some 120 operations.
    "SWAGGER_UI_SETTINGS": {"deepLinking": True, "docExpansion": "none", "defaultModelsExpandDepth": 0},
    "REDOC_DIST": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    # Each closed list gets a name of its own: several records have a `kind` or a `state`.
    "ENUM_NAME_OVERRIDES": {name: list(values.items()) for name, values in lists.NAMED.items()},
    "WEBHOOKS": "inspections.api.shapes.events.WEBHOOKS",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SORT_OPERATIONS": False,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "inspections.api.description.document.finish",
    ],
}

BROKER_URL = os.environ.get("PULLBACK_BROKER_URL", "memory://localhost/" if EMBEDDED else "redis://127.0.0.1:6379/0")
CELERY_BROKER_URL = BROKER_URL
CELERY_BROKER_TRANSPORT_OPTIONS = (
    {"polling_interval": 0.01}  # the default of 1 s would be the latency of every calculation
    if BROKER_URL.startswith("memory:")
    else {"socket_connect_timeout": 1, "socket_timeout": 2}  # a broker that hangs must not hold up a request for long
)
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None  # a worker outlives any outage of its broker
CELERY_TASK_IGNORE_RESULT = True  # the row is the result
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_PUBLISH_RETRY = False  # a broker that is away must not hold up a request
CELERY_TASK_DEFAULT_QUEUE = "calculations"
# Receivers that answer slowly must not hold up gradings: couriers are workers of their own.
DELIVERY_QUEUE = "deliveries"
CELERY_TASK_ROUTES = {"inspections.deliver": {"queue": DELIVERY_QUEUE}}
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_WORKER_REDIRECT_STDOUTS = False
LEASE_SECONDS = _number("PULLBACK_LEASE_SECONDS", 30)
DELIVERY_LEASE_SECONDS = _number("PULLBACK_DELIVERY_LEASE_SECONDS", 45)
if DELIVERY_LEASE_SECONDS < 18:
    raise ImproperlyConfigured("PULLBACK_DELIVERY_LEASE_SECONDS is under 18; an attempt takes up to 15 s and a bit.")
STOP_SECONDS = _number("PULLBACK_STOP_SECONDS", 18)  # a worker told to stop ends within it, whatever it is doing
SWEEP_SECONDS = _number("PULLBACK_SWEEP_SECONDS", 5)

# A token may ask so many times a second in the long run, and so many times at once; 0 a second means no limit.
RATE_PER_SECOND = _number("PULLBACK_RATE_PER_SECOND", 500)
RATE_BURST = _number("PULLBACK_RATE_BURST", 1_000)

# Who carries this token reads /metrics; without one it is not there.
METRICS_TOKEN = os.environ.get("PULLBACK_METRICS_TOKEN", "")
if METRICS_TOKEN and len(METRICS_TOKEN) < 16:
    raise ImproperlyConfigured("PULLBACK_METRICS_TOKEN is easily guessed; use at least 16 random characters.")
LEAST_DISK_MB = _number("PULLBACK_LEAST_DISK_MB", 100)  # readiness says no below
LONGEST_QUEUE_S = _number("PULLBACK_LONGEST_QUEUE_S", 60)  # readiness says degraded above

# Receivers inside the own network, as host:port pairs separated by commas; they may use http and any address.
WEBHOOK_ALLOW = tuple(pair.strip() for pair in os.environ.get("PULLBACK_WEBHOOK_ALLOW", "").split(",") if pair.strip())
if any(not pair.rpartition(":")[0] or not pair.rpartition(":")[2].isdigit() for pair in WEBHOOK_ALLOW):
    raise ImproperlyConfigured("PULLBACK_WEBHOOK_ALLOW is not a list of host:port pairs, separated by commas.")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "config.redaction.LinesMasked"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    # The full stack tells of every request; one machine's own service of what goes wrong.
    "root": {
        "handlers": ["stderr"],
        "level": os.environ.get("PULLBACK_LOG_LEVEL", "WARNING" if EMBEDDED else "INFO"),
    },
    # A client's 404 is an answer, not something for the service's keepers.
    "loggers": {"django.request": {"level": "ERROR"}, "django.security": {"level": "ERROR"}},
}
