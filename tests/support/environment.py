"""The environment of a test run, set before Django reads its settings.

Nothing of the developer's is touched: data, mails and photos go to a folder that is gone afterwards.
`tests.support.run` makes the folder and starts the servers in it; a plain `pytest` gets a folder of its own here,
SQLite, and no broker.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

SERVERS = ("DATABASE_URL", "REDIS_URL")
OTHERS = (
    "EMAIL_URL",
    "SITE_URL",
    "ALLOWED_HOSTS",
    "MEDIA_ROOT",
    "MAIL_FROM",
    "BEHIND_PROXY",
    "DEBUG",
    "SWEEP_SECONDS",
    "ORDER_SEARCH_SECONDS",
    "ORDER_POLISH_SECONDS",
)


def prepare() -> Path:
    """Returns the folder of this run."""
    if "TEST_FOLDER" in os.environ:
        forget, folder = OTHERS, Path(os.environ["TEST_FOLDER"])
    else:
        forget, folder = SERVERS + OTHERS, Path(tempfile.mkdtemp(prefix="cw-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for name in forget:
        os.environ.pop(name, None)
    root = Path(__file__).resolve().parents[2]
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "shopfloor.settings",
        "DEMO": "1",
        "VAR_DIR": str(folder / "var"),
        "SECRET_KEY": "only-for-tests-" + "x" * 50,
        "PYTHONPATH": str(root),
        "LOG_LEVEL": "WARNING",
    }
    (folder / "var").mkdir(mode=0o700, exist_ok=True)
    return folder
