import json

from django.db import migrations, models

LISTS = {
    "clips": "Clip",
    "segments": "Segment",
    "features": "Feature",
    "defects": "Defect",
    "unseen": "UnseenStretch",
}


def put_together(apps, editor):
    """Put the entries of every run's lists, kept beside it so far, into the run's own document, digit for digit."""
    Run = apps.get_model("inspections", "Run")
    for run in Run.objects.only("pk", "written").iterator(chunk_size=500):
        whole = run.written.rstrip()[:-1]
        for name, model in LISTS.items():
            rows = apps.get_model("inspections", model).objects.filter(run_id=run.pk).order_by("position")
            whole += f",{json.dumps(name)}:[{','.join(rows.values_list('written', flat=True))}]"
        Run.objects.filter(pk=run.pk).update(written=whole + "}")


class Migration(migrations.Migration):
    dependencies = [
        ("inspections", "0011_references_stay_within_an_organisation"),
    ]

    operations = [
        migrations.AlterField(
            model_name="run",
            name="written",
            field=models.TextField(editable=False, help_text="the whole document as it was sent"),
        ),
        migrations.RunPython(put_together, elidable=True),
        *(migrations.RemoveField(model_name=name.lower(), name="written") for name in LISTS.values()),
    ]
