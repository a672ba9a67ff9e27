"""What a change is called in plain words, by its machine name."""

SAID = {
    "injection_weaker": "less gas dissolves than before",
    "injection_stronger": "more gas dissolves than before",
    "exchange_faster": "CO2 leaves the water faster",
    "exchange_slower": "CO2 leaves the water more slowly",
    "uptake_higher": "the plants take up more",
    "uptake_lower": "the plants take up less",
    "start_late": "the gas opens late",
    "start_early": "the gas opens early",
    "start_missed": "the gas did not open",
    "stuck_open": "the gas stayed open overnight",
    "baseline_shift": "the water's pH is shifted (KH)",
    "probe_step": "the meter's pH is shifted",
    "probe_drift": "the meter's pH creeps",
    "gas_empty": "the gas has run out",
    "unsteady": "the gas is good one day and bad the next",
}
