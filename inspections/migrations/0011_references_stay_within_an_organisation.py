"""PostgreSQL itself refuses a record that names another organisation's record.

The services look records up within an organisation; this holds where one of them ever forgets to. A trigger for each
reference between two kinds of records that belong to somebody. (SQLite serves one machine; its tables are made anew by
later migrations, which triggers that name other tables would break.)
"""

from django.db import migrations

_FUNCTION = """
CREATE FUNCTION pullback_hold_organisation() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE owner uuid;
BEGIN
    EXECUTE format('SELECT organisation_id FROM %I WHERE %I = ($1).%I', TG_ARGV[1], TG_ARGV[2], TG_ARGV[0])
        INTO owner USING NEW;
    IF owner IS NOT NULL AND owner IS DISTINCT FROM NEW.organisation_id THEN
        RAISE EXCEPTION '% names a record of another organisation', TG_ARGV[0] USING ERRCODE = 'foreign_key_violation';
    END IF;
    RETURN NEW;
END $$;
"""


def _references(apps):
    """Yield table, column, table referred to and its key, of each reference between records that belong to somebody."""
    for model in apps.get_app_config("inspections").get_models():
        fields = {field.name: field for field in model._meta.concrete_fields}
        if "organisation" not in fields:
            continue
        for name, field in fields.items():
            to = field.related_model if field.is_relation else None
            if name != "organisation" and to is not None and any(f.name == "organisation" for f in to._meta.fields):
                yield model._meta.db_table, field.column, to._meta.db_table, to._meta.pk.column


def forwards(apps, schema_editor):
    if schema_editor.connection.vendor != "postgresql":
        return
    schema_editor.execute(_FUNCTION, params=None)
    for table, column, parent, key in _references(apps):
        schema_editor.execute(
            f'CREATE TRIGGER hold_organisation_{column} BEFORE INSERT OR UPDATE OF {column}, organisation_id ON "{table}"'
            f" FOR EACH ROW EXECUTE FUNCTION pullback_hold_organisation('{column}', '{parent}', '{key}')"
        )


def backwards(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP FUNCTION pullback_hold_organisation() CASCADE")


class Migration(migrations.Migration):
    dependencies = [("inspections", "0010_sites_by_their_change")]
    operations = [migrations.RunPython(forwards, backwards)]
