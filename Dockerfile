FROM python:3.11-slim

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 PIP_NO_CACHE_DIR=1
WORKDIR /srv/lehrbook

COPY requirements.txt .
RUN pip install --require-hashes --requirement requirements.txt

COPY LICENSE manage.py ./
COPY studios studios
COPY scheduling scheduling
COPY fixtures fixtures
# The files that browsers fetch are collected once, into the image; this secret signs nothing that outlives the line.
RUN LEHRBOOK_SECRET_KEY=collecting-only python manage.py collectstatic --no-input --verbosity 0 \
    && useradd --system --no-create-home lehrbook
USER lehrbook

EXPOSE 8000
CMD ["gunicorn", "scheduling.project.wsgi:application", "--bind", "0.0.0.0:8000", "--workers", "3", "--threads", "4", "--worker-tmp-dir", "/dev/shm", "--no-control-socket"]
