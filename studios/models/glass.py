"""Glass types."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from studios import thermal
from studios.errors import LehrbookError
from studios.models.beside import beside


class GlassType(models.Model):
    """A glass by its expansion, its annealing and strain points and its elastic and thermal properties."""

    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=40, unique=True)
    expansion_1e7_per_k = models.FloatField("expansion (1e-7 /K)")
    annealing_c = models.FloatField("annealing point (°C)")
    strain_c = models.FloatField("strain point (°C)")
    softening_c = models.FloatField("softening point (°C)")
    working_c = models.FloatField(
        "working point (°C)",
        null=True,
        blank=True,
        help_text="Where the viscosity is 10^4 dPa·s, if the data sheet gives it.",
    )
    youngs_gpa = models.FloatField("Young's modulus (GPa)")
    poisson = models.FloatField("Poisson's ratio")
    conductivity_w_per_m_k = models.FloatField("conductivity near 500 °C (W/(m K))")
    density_kg_per_m3 = models.FloatField("density (kg/m3)")
    heat_capacity_j_per_kg_k = models.FloatField("heat capacity near 500 °C (J/(kg K))")
    source = models.CharField(max_length=800, help_text="Where the values come from.")

    class Meta:
        ordering = ["name"]
        verbose_name = "glass"
        verbose_name_plural = "glasses"
        constraints = [
            models.CheckConstraint(
                name="glass_points_in_order",
                condition=Q(strain_c__lt=F("annealing_c"), annealing_c__lt=F("softening_c")),
                violation_error_message="Strain point < annealing point < softening point.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """The thermal model's own rules, shown beside the form once every value is there."""
        if None in {getattr(self, field.attname) for field in self._meta.fields if not field.blank}:
            return
        try:
            self.as_thermal()
        except LehrbookError as error:
            raise beside(error, self) from error

    @classmethod
    def of_family(cls, family: thermal.Family) -> GlassType:
        """A glass to start from where no data sheet is at hand; not yet stored."""
        glass = family.glass
        return cls(
            name=glass.name,
            slug=family.slug,
            expansion_1e7_per_k=round(glass.expansion_per_k * 1e7, 6),
            annealing_c=glass.annealing_c,
            strain_c=glass.strain_c,
            softening_c=glass.softening_c,
            working_c=glass.working_c,
            youngs_gpa=glass.youngs_pa / 1e9,
            poisson=glass.poisson,
            conductivity_w_per_m_k=glass.conductivity_w_per_m_k,
            density_kg_per_m3=glass.density_kg_per_m3,
            heat_capacity_j_per_kg_k=glass.heat_capacity_j_per_kg_k,
            source=family.source,
        )

    def as_thermal(self) -> thermal.Glass:
        """The record the thermal model works with, in SI units."""
        return thermal.Glass(
            name=self.name,
            expansion_per_k=self.expansion_1e7_per_k / 1e7,
            annealing_c=self.annealing_c,
            strain_c=self.strain_c,
            softening_c=self.softening_c,
            working_c=self.working_c,
            youngs_pa=self.youngs_gpa * 1e9,
            poisson=self.poisson,
            conductivity_w_per_m_k=self.conductivity_w_per_m_k,
            density_kg_per_m3=self.density_kg_per_m3,
            heat_capacity_j_per_kg_k=self.heat_capacity_j_per_kg_k,
        )
