"""The ranges to which the nouns of `dawnlevel.tank` hold their figures, for those who check files.

The tests hold each of these against the noun itself: what lies on an end is taken, what lies beyond is not.
"""

LIMITS: dict[str, dict[str, tuple[float, float]]] = {
    "tank": {
        "volume_l": (1.0, 20000.0),
        "depth_cm": (3.0, 300.0),
        "surface_cm2": (50.0, 400000.0),
        "photoperiod_lights_on_h": (0.0, 24.0),
        "photoperiod_lights_off_h": (0.0, 24.0),
        "temp_c": (5.0, 40.0),
        "gh_dgh": (0.0, 60.0),
        "conductivity_us_cm": (0.0, 5000.0),
        "altitude_m": (-430.0, 5000.0),
        "room_co2_ppm": (300.0, 10000.0),
        "kh_step_dkh": (0.01, 5.0),
        "ph_step": (0.001, 0.5),
        "co2_limit_mg_l": (5.0, 60.0),
        "first_rate_bps": (0.05, 30.0),
        "reads_per_ramp": (0, 24),
        "earliest_start_h": (0.0, 24.0),
        "timer_windows": (1, 24),
    },
    "ph": {"ph": (3.0, 11.0), "temp_c": (5.0, 40.0)},
    "kh": {"kh_dkh": (0.0, 40.0), "step_dkh": (0.01, 5.0)},
    "baseline": {"ph": (3.0, 11.0), "hours": (0.0, 240.0), "room_co2_ppm": (300.0, 10000.0)},
    "rate": {"bubbles_per_second": (0.0, 60.0)},
    "water_change": {"fraction": (0.0, 1.0)},
    "cylinder": {
        "gas_kg": (0.01, 100.0),
        "tare_kg": (0.02, 200.0),
        "capacity_l": (0.01, 200.0),
        "price": (0.0, 1e6),
    },
    "weight": {"gross_kg": (0.02, 300.0), "scale_kg": (0.0001, 1.0)},
    "gauge": {"gauge_bar": (0.0, 250.0), "temp_c": (-20.0, 65.0)},
    "buffers": {"low_ph": (0.0, 14.0), "high_ph": (0.0, 14.0), "temp_c": (0.0, 40.0)},
    "solution": {"kh_dkh": (0.1, 40.0), "error_percent": (0.0, 50.0)},
    "oxygen": {
        "oxygen_mg_l": (0.0, 30.0),
        "saturation_percent": (0.0, 300.0),
        "temp_c": (5.0, 40.0),
        "pressure_hpa": (500.0, 1100.0),
        "error_mg_l": (0.01, 3.0),
    },
    "survey": {
        "ph": (3.0, 11.0),
        "x_cm": (0.0, 1000.0),
        "y_cm": (0.0, 1000.0),
        "z_cm": (0.0, 1000.0),
    },
}
"""(lowest, highest) by table and column."""
