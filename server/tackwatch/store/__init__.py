"""The database: models, queries, the cursor and the atomic claims; SQLite and PostgreSQL."""
