"""The settings: what a host may choose is read, strictly, here and in `stores.py`."""

import os
import re
from datetime import timedelta
from pathlib import Path

from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.urls import reverse_lazy

from reeflog import __version__
from reeflog.environment import (
    read_bool,
    read_choice,
    read_int,
    read_list,
    read_push_key,
    read_site,
    read_text,
    refuse_unknown,
    site_of,
)
from reeflog.stores import (
    read_database,
    read_jobs,
    read_mail_server,
    read_photo_storage,
    read_shared_cache,
)

# Before numpy is first imported. Matrices here are small: a second thread for each only makes the
# requests of a busy machine wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

VERSION = __version__
BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(read_text("DATA_DIR", str(BASE_DIR / "data")))

DEBUG = read_bool("DEBUG", default=True)
SECRET_KEY = read_text("SECRET_KEY")
if not SECRET_KEY:
    if not DEBUG:
        raise ImproperlyConfigured("REEFLOG_SECRET_KEY must be set when REEFLOG_DEBUG is off.")
    SECRET_KEY = "debug-only-key-never-used-by-a-served-app"
ALLOWED_HOSTS = read_list("ALLOWED_HOSTS", "127.0.0.1,localhost" if DEBUG else "")
if not DEBUG and not ALLOWED_HOSTS:
    raise ImproperlyConfigured("REEFLOG_ALLOWED_HOSTS must be set when REEFLOG_DEBUG is off.")
# Keys from before: what they signed still counts, and nothing new is signed with them.
SECRET_KEY_FALLBACKS = read_list("SECRET_KEY_FALLBACKS")
CSRF_TRUSTED_ORIGINS = read_list("TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "apps.accounts",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_filters",
    "django_htmx",
    "drf_spectacular",
    "knox",
    "rest_framework",
    "apps.common",
    "apps.later",
    "apps.clubs",
    "apps.tanks",
    "apps.lighting",
    "apps.surveys",
    "apps.lightmap",
    "apps.corals",
    "apps.outcomes",
    "apps.planning",
    "apps.sharing",
    "apps.api",
    "apps.transfer",
    "apps.hosting",
    "reeflog",
]

MIDDLEWARE = [
    "apps.hosting.watching.middleware.HostPagesMiddleware",
    "apps.later.traffic.TrafficMiddleware",
    "apps.hosting.watching.middleware.WatchingMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "reeflog.compressing.GZipPagesMiddleware",
    "csp.middleware.CSPMiddleware",
    "django_permissions_policy.PermissionsPolicyMiddleware",
    "apps.accounts.private_pages.PrivatePagesMiddleware",
    "apps.api.https.HttpsForProgramsMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "apps.common.htmx.SignInForFragmentsMiddleware",
    "apps.common.drafts.TakenDraftsMiddleware",
    "apps.common.serving.wrong_method.FormAddressMiddleware",
]

ROOT_URLCONF = "reeflog.urls"
WSGI_APPLICATION = "reeflog.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "apps.common.drafts.taken_drafts",
                "apps.hosting.pages.context.host_words",
            ],
            "builtins": ["apps.common.templatetags.reef"],
        },
    }
]

# --- Database -------------------------------------------------------------------------------
DATABASES = {"default": read_database(DATA_DIR, is_debug=DEBUG)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

SHARED_CACHE, PACES_CACHE = read_shared_cache()
# Fitted maps are kept by each worker here, and for all of them below KEPT_DIR.
CACHES = {
    "default": SHARED_CACHE,
    "maps": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "maps",
        # A map of 1,000 readings takes 8 MB, one of 60 a fiftieth of that.
        "OPTIONS": {"MAX_ENTRIES": 60},
        "TIMEOUT": 24 * 3600,
    },
    "paces": PACES_CACHE,
    # Cuts through tanks with rock, 40 kB each: a slider comes back to the same depths.
    "planes": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "planes",
        "OPTIONS": {"MAX_ENTRIES": 300},
        "TIMEOUT": 3600,
    },
}

# What is costly and worked out once for all workers of a host (`common/kept.py`); 0 MB: each worker
# for itself.
KEPT_DIR = DATA_DIR / "kept"
KEPT_MB_MAX = read_int("KEPT_MB_MAX", 512, low=0, high=100_000)

# What works on jobs behind the pages (`apps/later`), and the broker of its workers if it has any.
JOBS, CELERY_BROKER = read_jobs()

# --- People ---------------------------------------------------------------------------------
AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "display_name")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "apps.accounts.password_words.GuessableValidator"},
]
LOGIN_URL = reverse_lazy("account_login")
LOGIN_REDIRECT_URL = reverse_lazy("tank_list")
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_FORMS = {
    key: f"apps.accounts.forms.{name}"
    for key, name in {
        "login": "LoginForm",
        "signup": "SignupForm",
        "reauthenticate": "ReauthenticateForm",
        "add_email": "ChangeEmailForm",
        "change_password": "ChangePasswordForm",
        "set_password": "SetPasswordForm",
        "reset_password": "ResetPasswordForm",
        "reset_password_from_key": "ResetPasswordKeyForm",
    }.items()
}
# One e-mail a keeper; a new one takes its place once its link was opened.
ACCOUNT_CHANGE_EMAIL = True
EMAIL_URL = read_text("EMAIL_URL")
# Where mails end: in mailboxes, in the terminal of whoever tries the app, or nowhere. A served
# site writes none down, since links that open accounts would stand in its log.
MAILS = "sent" if EMAIL_URL else "printed" if DEBUG else "dropped"
# Where mails are sent, sign-up answers alike whether an address has an account or not, and the
# rest goes by mail. Where none are sent it has to tell.
ACCOUNT_EMAIL_VERIFICATION = read_choice(
    "EMAIL_VERIFICATION", "mandatory" if EMAIL_URL else "none", ("none", "optional", "mandatory")
)
# Whoever sits down at an open screen must not take the account over by an e-mail of their own.
ACCOUNT_REAUTHENTICATION_REQUIRED = True
SIGN_UP = read_choice("SIGN_UP", "open", ("open", "closed"))
ACCOUNT_ADAPTER = "apps.accounts.adapter.AccountAdapter"
# A club may sign up from one hall, but nobody asks about a thousand addresses.
ACCOUNT_RATE_LIMITS = {"signup": "20/h/ip"}
ACCOUNT_LOGOUT_REDIRECT_URL = "/"
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_EMAIL_SUBJECT_PREFIX = "reeflog: "
# Whether a club's officer may make a one-time link for a member who lost their password. It opens
# the member's account to whoever has it, so the host says so, and only where no mail does it.
OFFICERS_RESET = read_bool("OFFICERS_RESET", default=False)
if OFFICERS_RESET and EMAIL_URL:
    raise ImproperlyConfigured("REEFLOG_OFFICERS_RESET is for sites that send no mail.")
# A changed password, e-mail or second step is told to the keeper, so that no thief does it unseen.
ACCOUNT_EMAIL_NOTIFICATIONS = bool(EMAIL_URL)
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes", "webauthn"]
# A host that confirms no e-mail could offer no second step at all otherwise.
MFA_ALLOW_UNVERIFIED_EMAIL = ACCOUNT_EMAIL_VERIFICATION == "none"
MFA_PASSKEY_LOGIN_ENABLED = False

if EMAIL_URL:
    vars().update(read_mail_server("EMAIL_URL"))
else:
    way = "console" if MAILS == "printed" else "dummy"
    EMAIL_BACKEND = f"django.core.mail.backends.{way}.EmailBackend"
# A mail server that says nothing keeps nobody waiting for ever [s].
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = read_text("FROM_EMAIL", "reeflog <reeflog@localhost>")

# --- Safety ---------------------------------------------------------------------------------
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
        "report-uri": ["/policy-reports/"],
    }
}
PERMISSIONS_POLICY = {
    name: [] for name in ("camera", "geolocation", "microphone", "payment", "usb", "gyroscope")
}
# Proxies in front that append to X-Forwarded-For. Throttles trust no more of that header.
PROXY_COUNT = read_int("PROXY_COUNT", 0, low=0, high=5)
ALLAUTH_TRUSTED_PROXY_COUNT = PROXY_COUNT
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 60 * 60 * 24 * 60
X_FRAME_OPTIONS = "DENY"
HTTPS = read_bool("HTTPS", default=not DEBUG)
HSTS_SECONDS = read_int("HSTS_SECONDS", 3600, low=0, high=63_072_000)
# Only a host knows whether every name below this one has HTTPS.
HSTS_SUBDOMAINS = read_bool("HSTS_SUBDOMAINS", default=False)
# Where keepers find this site, for links in mails that no visit calls for.
SITE = read_site("SITE", "" if DEBUG else site_of(ALLOWED_HOSTS, is_https=HTTPS))
if HTTPS and PROXY_COUNT:
    # Only a proxy of ours may say that the visitor came by HTTPS.
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
# Programs are not led to HTTPS but refused (`api/https.py`).
SECURE_REDIRECT_EXEMPT = [r"^api/v1/(?!docs/)"]
if HTTPS:
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = HSTS_SECONDS
    SECURE_HSTS_INCLUDE_SUBDOMAINS = HSTS_SUBDOMAINS

# Where the site administration is: guessed less often elsewhere. Its sign-in is the keepers' own.
ADMIN_PATH = read_text("ADMIN_PATH", "admin/")
if not re.fullmatch(r"[a-z0-9_-]+/", ADMIN_PATH):
    raise ImproperlyConfigured(f"REEFLOG_ADMIN_PATH={ADMIN_PATH!r} is not a path such as office/.")

# Whether subdomains serve HTTPS too, and preload lists, are beyond what this site may decide.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# For so long a link to one photo works, without an account.
PHOTO_LINK_HOURS = read_int("PHOTO_LINK_HOURS", 48, low=1, high=720)
# A photo is the largest thing that a form of a keeper sends.
PHOTO_BYTES_MAX = read_int("PHOTO_MB_MAX", 25, low=1, high=100) * 1024 * 1024
# A zip of years of photos, brought in by a page; `import_tank` takes any size.
ARRIVAL_BYTES_MAX = read_int("IMPORT_MB_MAX", 500, low=1, high=4000) * 1_000_000
# What one keeper may have in all; 0 is no bound.
TANKS_MAX = read_int("TANKS_MAX", 0, low=0, high=100_000)
PHOTOS_MAX = read_int("PHOTOS_MAX", 0, low=0, high=10_000_000)
# A table of 1,000 readings has 5 fields a row.
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 12_000

# --- Files ----------------------------------------------------------------------------------
STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
# Said here because "start" shows a keeper's pages for errors, yet serves files as in debug.
WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = DEBUG
# Photos are private: their folder has no address, a view that checks the reader hands them out.
MEDIA_ROOT = DATA_DIR / "photos"
STORAGES = {
    "default": read_photo_storage(),
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "apps.common.serving.static_names.HashedNamesStorage"
    },
}

# --- Language and time ----------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

# --- API ------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "apps.api.tokens.authentication.BearerAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": [
        "rest_framework.permissions.IsAuthenticated",
        "apps.api.tokens.authentication.WithinScope",
    ],
    # The browsable pages need inline styles, which the page policy forbids.
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["apps.api.parsing.ShallowJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "apps.common.programs.idempotency.Schema",
    "EXCEPTION_HANDLER": "apps.api.problems.answer_problem",
    "DEFAULT_FILTER_BACKENDS": ["apps.api.filtering.StrictFilterBackend"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.PageNumberPagination",
    "PAGE_SIZE": 100,
    # Counted in the shared cache. Wide enough for a script that sends a survey a second.
    "DEFAULT_THROTTLE_CLASSES": [
        "rest_framework.throttling.AnonRateThrottle",
        "rest_framework.throttling.UserRateThrottle",
    ],
    "DEFAULT_THROTTLE_RATES": {"anon": "30/min", "user": "300/min"},
    "NUM_PROXIES": PROXY_COUNT,
    "COERCE_DECIMAL_TO_STRING": False,
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "reeflog",
    "DESCRIPTION": "Tanks, PAR surveys, light maps, corals and light changes. A field that is not "
    "known is refused, and so is a read-only one of a new row or with another value than the row "
    "has: a row that was read may be sent back whole.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    # What is read has fields that are not written: two names, so that a client can build a row.
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "apps.api.problems.document_problems",
    ],
    "SERVE_INCLUDE_SCHEMA": False,
    # Choices that several fields share, or name alike, get a name of their own in the schema.
    "ENUM_NAME_OVERRIDES": {
        "Sign": "apps.corals.models.HealthNote.Seen",
        "SwitchEnum": "apps.surveys.models.Survey.Switch",
        "JobStateEnum": "apps.later.models.Job.State",
        "FixtureKind": "apps.lighting.models.Fixture.Kind",
        "MeterKind": "apps.surveys.models.Meter.Kind",
        "PlanKind": "apps.planning.models.Plan.Kind",
        "WaterEventKind": "apps.corals.models.WaterEvent.Kind",
        "RegionShape": "apps.api.photos.marking.SHAPES",
        "UnitsEnum": "apps.common.units.UNIT_CHOICES",
        "RoleEnum": "apps.clubs.models.Membership.Role",
        "TankRole": "apps.tanks.models.Membership.Role",
        "OfferedRole": "apps.api.people.serializers.OFFERED",
    },
}
# A token lives half a year, then the keeper makes a new one.
REST_KNOX = {"TOKEN_TTL": timedelta(days=183), "AUTO_REFRESH": False}

# --- What a host says ---------------------------------------------------------------------
# On every page, such as when the site will be down.
MAINTENANCE_MESSAGE = read_text("MAINTENANCE_MESSAGE")
# Whom to write to about data and holes: security.txt and the privacy page name it.
CONTACT = read_text("CONTACT")
if CONTACT and not CONTACT.startswith(("mailto:", "https://")):
    raise ImproperlyConfigured(f"REEFLOG_CONTACT={CONTACT!r} must begin with mailto: or https://.")

# By it a browser's push service knows this site; without one no reminder goes to a browser.
PUSH_KEY = read_push_key("PUSH_KEY")

# --- What a host sees ------------------------------------------------------------------------
# Slower ones are logged by their route or their SQL, without values; 0 logs none [ms].
SLOW_PAGE_MS = read_int("SLOW_PAGE_MS", 2000, low=0, high=600_000)
SLOW_QUERY_MS = read_int("SLOW_QUERY_MS", 500, low=0, high=600_000)
# Whoever has it may read /metrics/; without one there is no such page.
METRICS_TOKEN = read_text("METRICS_TOKEN")
METRICS_DIR = DATA_DIR / "metrics"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "json": {"()": "apps.hosting.watching.log_lines.LogLines"},
        "plain": {"format": "%(levelname)s %(name)s: %(message)s"},
    },
    "filters": {"routes": {"()": "apps.hosting.watching.log_lines.RouteForPath"}},
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "filters": ["routes"],
            "formatter": read_choice("LOG_FORM", "plain" if DEBUG else "json", ("plain", "json")),
        }
    },
    "root": {
        "handlers": ["console"],
        "level": read_choice("LOG_LEVEL", "INFO", ("DEBUG", "INFO", "WARNING", "ERROR")),
    },
    "loggers": {
        # Who is refused a page stands in the line of the request.
        "django.request": {"level": "ERROR"},
        # Its own handlers would say everything twice, by mail to admins too.
        "django": {"handlers": [], "propagate": True},
        "django.server": {"handlers": [], "propagate": True, "level": "WARNING"},
        # Each table of a font that it cuts for a PDF.
        "fontTools": {"level": "WARNING"},
        # Trying the app at home, each request is no news.
        "reeflog.requests": {"level": "WARNING" if DEBUG else "INFO"},
    },
}

refuse_unknown()
