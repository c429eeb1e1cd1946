from django.db import migrations


def name_the_sealants(apps, editor):
    """What is used in beads was a sealant before there was a word for it."""
    materials = apps.get_model("estimates", "Material").objects
    beads = apps.get_model("estimates", "RecipeMaterial").objects.filter(bead_width_in__isnull=False)
    materials.filter(pk__in=beads.values("material")).update(takeoff="sealant")


class Migration(migrations.Migration):
    dependencies = [
        ("estimates", "0011_take_off"),
    ]

    operations = [migrations.RunPython(name_the_sealants, migrations.RunPython.noop)]
