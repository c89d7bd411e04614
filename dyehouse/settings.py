"""Settings of the house. Everything that differs between machines comes from the environment (see environ.py)."""

from __future__ import annotations

import os
from pathlib import Path

from csp.constants import NONE, SELF

from dyehouse.environ import data_folder, database, env_bool, env_list, secret_key

SOURCE = Path(__file__).resolve().parent.parent
DATA = data_folder()

DEBUG = env_bool("DYEHOUSE_DEBUG", False)
SECRET_KEY = secret_key(DATA)
ALLOWED_HOSTS = env_list("DYEHOUSE_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env_list("DYEHOUSE_ORIGINS", [])
# Only ever reached over HTTPS, such as behind a proxy that ends TLS.
HTTPS = env_bool("DYEHOUSE_HTTPS", False)
# This process serves phones over HTTPS with the house's own certificate, beside one that serves plain HTTP.
OWN_HTTPS = env_bool("DYEHOUSE_OWN_HTTPS", False)
# How a phone on the network reaches the house, from `studio --lan`; empty where it was not opened to phones.
PHONES_HTTP = os.environ.get("DYEHOUSE_PHONES_HTTP", "")
PHONES_HTTPS_PORT = os.environ.get("DYEHOUSE_PHONES_HTTPS_PORT", "")
PHONES_NAME = os.environ.get("DYEHOUSE_PHONES_NAME", "")

INSTALLED_APPS = [
    "dyehouse.studio",
    "dyehouse.ledger",
    "recipes",
    "recipes.lots",
    "inventory",
    "inventory.buying",
    "inventory.shows",
    "inventory.costing",
    "inventory.promises",
    "inventory.weeks",
    "dyehouse.paper",
    "dyehouse.day",
    "dyehouse.demo",
    "dyehouse.running",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "template_partials",
    "csp",
    "django_tasks",
    "django_tasks_db",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "dyehouse.studio.middleware.PhoneMiddleware",
    "dyehouse.studio.middleware.StudioMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "dyehouse.urls"
WSGI_APPLICATION = "dyehouse.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [SOURCE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "dyehouse.studio.context.house",
            ],
            "builtins": [
                "template_partials.templatetags.partials",
                "dyehouse.studio.templatetags.house",
                "dyehouse.studio.templatetags.lay",
                "django.templatetags.static",
            ],
        },
    }
]
FORM_RENDERER = "dyehouse.studio.forms.HouseRenderer"

DATABASES = {"default": database(DATA)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "studio.User"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "day"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = HTTPS or OWN_HTTPS
CSRF_COOKIE_SECURE = HTTPS or OWN_HTTPS
if OWN_HTTPS:
    # Cookies know no ports: under one name, the plain server beside this one could not replace a secure cookie.
    SESSION_COOKIE_NAME = "__Host-sessionid"
    CSRF_COOKIE_NAME = "__Host-csrftoken"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "dyehouse.studio.views_errors.form_expired"
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_PROXY_SSL_HEADER = (
    ("HTTP_X_FORWARDED_PROTO", "https")
    if env_bool("DYEHOUSE_BEHIND_PROXY", False) and not OWN_HTTPS
    else None
)
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "font-src": [SELF],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}

LANGUAGE_CODE = "en"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "/static/"
STATIC_ROOT = DATA / "static"
STATICFILES_DIRS = [SOURCE / "dyehouse" / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "dyehouse.studio.fonts.FontFinder",
]
MEDIA_ROOT = DATA / "photos"
# Photos are served through a view that asks who is looking; there is no public address for them.
MEDIA_URL = "/photos/"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = DEBUG

DATA_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
# The studio chooses among the sheets that the printing room knows, without knowing that room.
LABEL_SHEETS = "dyehouse.paper.own_sheets.sheets_for_choice"
PHOTO_LIMIT_BYTES = 20 * 1024 * 1024

TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": os.environ.get("DYEHOUSE_LOG", "WARNING")},
}

VERSION = "0.1.0"
