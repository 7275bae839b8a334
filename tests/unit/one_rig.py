"""One setup within all its ratings, and the same with a few fields changed."""

from curves import parse_job

JOB = """
format = "rimforce-job-1"
[motor.hub]
kv_rpm_per_v = 8.2
resistance_ohm = 0.16
inductance_d_uh = 310.0
inductance_q_uh = 340.0
pole_pairs = 20
no_load_torque_nm = 0.7
no_load_torque_nm_per_rad_s = 0.01
max_rpm = 900.0
[controller.sine]
max_input_v = 90.0
max_phase_current_a = 120.0
max_pack_current_a = 50.0
max_electrical_rpm = 60000.0
max_modulation = 0.95
[pack.p14]
cell = "nmc-21700"
series = 14
parallel = 4
cell_resistance_mohm = 30.0
continuous_current_a = 28.0
peak_current_a = 40.0
bms_cutoff_v = 38.0
mass_kg = 4.6
[tune.town]
phase_current_a = 75.0
pack_current_a = 26.0
low_voltage_cutoff_v = 42.0
[bike.courier]
bike_mass_kg = 34.0
rider_kg = 80.0
circumference_m = 2.16
rolling_coefficient = 0.012
drag_area_m2 = 0.60
[[setup]]
name = "one"
motor = "hub"
controller = "sine"
pack = "p14"
tune = "town"
bike = "courier"
"""
PARTS = {"pack": "pack.p14", "controller": "controller.sine", "tune": "tune.town"}


def rig(**changes):
    """The setup with fields such as ``pack__series`` set."""
    job = parse_job(JOB)
    for name, value in changes.items():
        part, _, field = name.partition("__")
        names = {**PARTS, "motor": "motor.hub", "bike": "bike.courier", "setup": "setup.one"}
        place = f"{names.get(part, part)}.{field}".removesuffix(".")
        job = job.replace(place, value)
    return job.rigs()[0]
