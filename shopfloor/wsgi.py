"""Entry point for gunicorn."""

import os
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")
application = get_wsgi_application()
# The plan engine's code is read, or compiled, before the first question; only now do settings say where it is kept.
import_module("estimates.calc.plan.warming").warm_up_aside()
