# The program for compose.yaml. Images could not be built where this was written: the file has been read, not run.
FROM python:3.11-slim-bookworm

# What printing needs from the system, and what takes a database out for a backup.
RUN apt-get update \
    && apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 fonts-dejavu-core fonts-dejavu-extra \
        postgresql-client \
    && rm -rf /var/lib/apt/lists/*

WORKDIR /shop
COPY requirements.lock .
RUN pip install --no-cache-dir --disable-pip-version-check --require-hashes -r requirements.lock

COPY manage.py .
COPY routing routing
COPY quality quality
COPY shopfloor shopfloor
COPY templates templates
COPY static static
# Whoever runs it may not write here, and would translate every file at each start.
RUN python -m compileall -q routing quality shopfloor

RUN useradd --system --uid 10001 --create-home shop && install -d -o shop -g shop /data
USER shop
ENV SHOP_DATA=/data HOST=0.0.0.0 PORT=8000 WORKERS=2 PYTHONUNBUFFERED=1
VOLUME /data
EXPOSE 8000

CMD ["python", "-m", "shopfloor.serve"]
