"""The audit trail is written once: the database itself refuses to change or delete its rows."""

from django.db import migrations

_POSTGRESQL = (
    """
    CREATE FUNCTION pullback_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION 'the audit trail is append-only';
    END $$;
    CREATE TRIGGER audit_append_only BEFORE UPDATE OR DELETE ON inspections_auditentry
        FOR EACH ROW EXECUTE FUNCTION pullback_refuse_change();
    CREATE TRIGGER audit_no_truncate BEFORE TRUNCATE ON inspections_auditentry
        FOR EACH STATEMENT EXECUTE FUNCTION pullback_refuse_change();
    """,
    """
    DROP TRIGGER audit_append_only ON inspections_auditentry;
    DROP TRIGGER audit_no_truncate ON inspections_auditentry;
    DROP FUNCTION pullback_refuse_change();
    """,
)
_SQLITE = (
    (
        "CREATE TRIGGER audit_no_update BEFORE UPDATE ON inspections_auditentry"
        " BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END",
        "CREATE TRIGGER audit_no_delete BEFORE DELETE ON inspections_auditentry"
        " BEGIN SELECT RAISE(ABORT, 'the audit trail is append-only'); END",
    ),
    ("DROP TRIGGER audit_no_update", "DROP TRIGGER audit_no_delete"),
)


def _run(schema_editor, position):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(_POSTGRESQL[position])
        return
    for statement in _SQLITE[position]:
        schema_editor.execute(statement)


def forwards(apps, schema_editor):
    _run(schema_editor, 0)


def backwards(apps, schema_editor):
    _run(schema_editor, 1)


class Migration(migrations.Migration):
    dependencies = [("inspections", "0001_initial")]
    operations = [migrations.RunPython(forwards, backwards)]
