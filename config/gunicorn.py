"""gunicorn for the full stack: `gunicorn -c config/gunicorn.py config.wsgi`."""

import os

bind = os.environ.get("PULLBACK_BIND", "127.0.0.1:8000")
workers = int(os.environ.get("PULLBACK_WEB_PROCESSES", "2"))
threads = int(os.environ.get("PULLBACK_WEB_THREADS", "8"))
worker_class = "gthread"
timeout = 30
graceful_timeout = 20  # a stop lets running requests end
keepalive = 15
limit_request_line = 8190
worker_tmp_dir = "/dev/shm" if os.path.isdir("/dev/shm") else None
