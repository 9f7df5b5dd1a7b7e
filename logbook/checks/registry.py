"""The one visible list of checks; an id is never reused."""

from __future__ import annotations

from logbook.checks import (
    amounts,
    delivery,
    droplets,
    entries,
    evidence,
    label,
    law,
    licence,
    nozzles,
    season,
    weather,
)
from logbook.checks.core import Check

CHECKS: tuple[Check, ...] = (
    # What was delivered
    delivery.carrier_against_planned,
    delivery.carrier_against_label,
    delivery.product_against_planned,
    delivery.product_against_label,
    droplets.nozzle_pressure,
    droplets.droplet_class,
    droplets.line_loss,
    nozzles.catch_test,
    nozzles.nozzles_mounted,
    nozzles.nozzle_evenness,
    nozzles.nozzle_wear,
    nozzles.caught_flow,
    # What the label asks
    label.label_edition,
    label.planned_rate,
    label.planned_carrier,
    label.boom_height,
    label.required_adjuvants,
    label.forbidden_adjuvants,
    label.drift_reducer,
    season.season_maximum,
    season.applications_maximum,
    season.application_interval,
    # The weather
    weather.weather_times,
    weather.wind_window,
    weather.wind_height,
    weather.temperature_limits,
    weather.time_of_day,
    weather.inversion,
    weather.delta_t,
    # Who sprayed
    licence.applicator_licence,
    licence.helper_training,
    licence.restricted_use,
    licence.supervised_helper,
    licence.licence_category,
    # Whether the entries are what was meant, and bear each other out
    entries.usual_range,
    evidence.start_before_end,
    amounts.mix_used,
    amounts.product_used,
    amounts.distance_driven,
    evidence.time_taken,
    evidence.treated_area,
    amounts.loads_used,
    amounts.product_in_loads,
    evidence.tank_capacity,
    evidence.load_order,
    # What the law asks to be recorded
    law.record_elements,
    law.location_format,
    law.one_record_each,
)
