"""Every term of the interface in one table: its meaning, its formula, where it comes from."""

from __future__ import annotations

from typing import NamedTuple


class Term(NamedTuple):
    """A term: what it is called, what it means, how it is worked out, and the source."""

    name: str
    meaning: str
    formula: str = ""
    source: str = ""


MODEL = "steady-state model of a permanent-magnet motor"
PRACTICE = "common practice"
TERMS: dict[str, Term] = {
    "kv": Term(
        "Kv", "Rotor rpm per volt of peak back-EMF between two leads, at 20 °C.",
        "flux of a phase λ = 60 / (2π √3 p Kv)", MODEL),
    "resistance": Term(
        "Resistance", "Between two leads, as a four-wire meter reads it; a phase has half. It "
        "grows with the winding’s temperature.",
        "R(T) = R20 (1 + 0.00393 (T − 20))", "IEC 60028"),
    "inductance": Term(
        "Inductance d and q", "The least and the most between two leads while the rotor turns.",
        "torque = 1.5 p (λ + (Ld − Lq) i_d) i_q", MODEL),
    "no-load-torque": Term(
        "No-load torque", "Drag of iron, air and bearings at the rotor.", "T0 + c1 ω", MODEL),
    "volts": Term(
        "Volts full and nominal", "Full is what a meter reads on the charged pack at rest; "
        "nominal is what its label says.", "V = V_oc − R_pack I under load", PRACTICE),
    "phase-current": Term(
        "Phase current", "Current in a motor lead; it makes torque. Peak, unless the tune counts "
        "rms: peak is √2 times as many.", "√(i_d² + i_q²) ≤ I_phase", MODEL),
    "pack-current": Term(
        "Pack current", "Current from the pack: the least that tune, controller and pack allow.",
        "I = P / V", MODEL),
    "power-cap": Term("Power cap", "Most watts the controller takes at its input.", "P ≤ P_cap",
        "the tune in the job"),
    "field-weakening": Term(
        "Field weakening", "Current along d that works against the magnets, so that the voltage "
        "lasts to a higher speed. It heats without adding torque below base speed.",
        "−(I_fw + I_mtpa) ≤ i_d ≤ 0", MODEL),
    "characteristic-current": Term(
        "Characteristic current", "Weakening past it stops paying.", "I_ch = λ / Ld", MODEL),
    "low-voltage": Term(
        "Low-voltage cut-off", "Volts under load below which tune or BMS stops the drive: the "
        "higher of the two counts.", "V(P) ≥ V_cut", "tune and pack in the job"),
    "limit": Term(
        "Held by", "The limit that is met there, and of which a little more would raise the force.",
        "gain = change of top speed for one more of it", "multipliers of the optimum"),
    "base-speed": Term("Base speed", "The lowest speed at which voltage limits.",
        "√(v_d² + v_q²) = m V / √3", MODEL),
    "no-load-speed": Term(
        "No-load speed", "Where the torque at the shaft has fallen to nothing: the wheel off the "
        "ground.", "T_shaft(ω) = 0", MODEL),
    "full": Term(
        "Top speed", "Going up from rest, the first speed at which the force at the rim falls to "
        "the road load. Full: with a full pack; nearly empty: with a tenth of the charge left.",
        "F(v) = F_road(v)", MODEL),
    "hill": Term(
        "Speed on a hill", "Top speed on the goal’s slope.",
        "F(v) = F_road(v), grade as a tangent", MODEL),
    "road-load": Term(
        "Road load", "What slope, tyres and air hold against the bike.",
        "m g (sin θ + Crr cos θ) + ½ ρ CdA (v + w)|v + w|", "air density: ISO 2533"),
    "pin": Term(
        "Force at a speed", "Force at the rim with full throttle there, and what limits it.",
        "F = T n η / r, r = roll-out / 2π", MODEL),
    "drive-off": Term(
        "Back-EMF with drive off", "If the controller stops switching at speed, the motor makes "
        "these volts. Above the pack’s it brakes by itself; above the controller’s rating, with "
        "the pack gone, it can destroy it.", "peak volts between leads = rpm / Kv", MODEL),
    "fits": Term(
        "Fits?", "Every rating in the job against what the setup asks. What has no rating is not "
        "checked.", "what is asked ≤ what it is rated for", "ratings in the job"),
    "care": Term(
        "Take care", "The most serious caution; open it for all, with number, reason and source. "
        "General information, never advice: ask qualified people and local law.",
        source="stands beside each caution"),
    "split": Term(
        "Split", "Time from the start to a speed or a distance; with one foot of roll-out the "
        "clock starts after the first foot. 660 ft is the eighth mile.",
        "m dv/dt = min(F, traction, lift) − F_road", f"{PRACTICE} at the strip"),
    "reach": Term(
        "Settled temperature", "Where the winding ends when a ride lasts: copper loss heats it, "
        "the case cools to the air.", "two nodes, winding and case", MODEL),
    "range": Term(
        "Range", "Distance at a steady speed between two states of charge, without wind or stops.",
        "energy of the pack between them / energy per distance", MODEL),
    "weakest": Term(
        "Gives first", "The part whose rating the setup comes nearest to, or passes.",
        "what is asked / what it is rated for", "ratings in the job"),
    "saturation": Term(
        "Saturation", "At high current the iron gives less torque per ampere. Where it was not "
        "measured it is left out, and the results say so.", "torque × factor of |i|", PRACTICE),
    "modulation": Term(
        "Modulation", "How much of the pack’s volts reaches the motor: 1 is the linear limit, 0.90 "
        "to 0.95 is typical.", "peak volts of a phase ≤ m V / √3", "space-vector modulation"),
    "mtpa": Term(
        "Most torque per ampere", "Some current along d where the inductances differ: it gives the "
        "most torque for the amperes.",
        "I_mtpa = (√(λ² + 4Δ² i_q²) − λ) / 2Δ, Δ = Lq − Ld", MODEL),
    "efficiency": Term(
        "Power, loss, efficiency", "What goes in at the pack, what comes out at the rim, and what "
        "is lost in the winding, controller, drag and gears.",
        "efficiency = P_rim / P_pack", MODEL),
    "band": Term(
        "±", "Half the band in which nine of ten results lie, given how sure the inputs are.",
        "5 to 95 %; what bends is asked again with all inputs moved together",
        "tolerances in the job"),
    "voltage": Term(
        "Voltage", "As a limit: what the motor makes by turning takes up the volts that the pack "
        "has left under load, so no more current flows in.", "√(v_d² + v_q²) ≤ m V / √3", MODEL),
    "speed-cap": Term(
        "Speed cap", "The road speed at which the tune ends the drive.", "v ≤ v_cap",
        "the tune in the job"),
    "motor-speed": Term(
        "Motor speed", "The most rpm the rotor bears.", "rpm ≤ rpm_max", "the motor in the job"),
    "electrical-speed": Term(
        "Electrical speed", "Turns of the field in the motor, as many times the rotor’s as it has "
        "pole pairs; the controller follows it up to its rating.", "p rpm ≤ its rating",
        "the controller in the job"),
    "coasting": Term(
        "Coasting", "Downhill, or with the wind, the bike rolls faster than it is driven, to where "
        "the road load balances the motor’s drag.", "−F_road(v) = (T0 + c1 ω) n / (r η)", MODEL),
    "grip": Term(
        "Grip and lift", "The most force before the driven tyre slips, or the other wheel leaves "
        "the ground.", "rear: F = μ W (L − b) / (L − μ h)", "equilibrium of forces, both wheels"),
    "torque-rise": Term(
        "Torque rise", "The controller lets torque grow from nothing in this time.",
        "F ≤ F_rest t / t_rise", "the controller in the job"),
    "braking": Term(
        "Braking by the motor", "The strongest within the same limits, currents reversed; the pack "
        "takes what comes back.", "the least torque T(i_d, i_q) within the limits", MODEL),
    "gearing": Term(
        "Reduction and roll-out", "Rotor turns for one turn of the wheel, and the way the wheel "
        "rolls in one turn, with the rider on it.", "v = ω r / n, r = roll-out / 2π", MODEL),
    "grade": Term(
        "Steepest grade", "Rise over level way; the steepest at which the force still holds the "
        "speed.", "F(v) = F_road(v), grade = tan θ", MODEL),
    "charge": Term(
        "State of charge", "What is left in the cells: half is 50 %, nearly empty is 10 %.",
        "V_oc = cells in series × u(charge)", "published curve of the cell"),
    "pack-energy": Term(
        "Cells, strings, energy", "Cells one after the other add volts, strings beside each other "
        "add amperes.", "Wh = ∫ V_oc dQ; mass and price by the cell", "the pack in the job"),
    "charging": Term(
        "Charging", "An estimate that leaves out how the charger tapers off.",
        "hours = Ah / charger’s A", "the pack in the job"),
    "copper-loss": Term(
        "Heat in the windings", "Phase current in the winding’s resistance.", "1.5 R(T) |i|²",
        MODEL),
    "winding": Term(
        "Winding, case, magnets", "Two bodies that heat: copper warms the winding, the winding the "
        "case, and the case the air; magnets are as warm as the case.",
        "C dT/dt = heat in − heat out, each of them", "two nodes, winding and case"),
    "timed": Term(
        "Speed, way, time", "Speed is the bike’s over the road; a run begins at rest, with full "
        "throttle.", "v = ω r / n, dx = v dt", MODEL),
    "residual": Term(
        "Measured less predicted", "What the log reads above the prediction at the same time.",
        "measured − predicted", "the log"),
    "share": Term(
        "Share of the spread", "How much of the variance would vanish if that input were known "
        "exactly.", "Var(E(result | input)) / Var(result)", "first-order Sobol’ index"),
    "odds": Term(
        "How often one beats the other", "Of all samples of what is unsure, the share in which one "
        "setup comes out ahead, by any difference above what rounding makes.",
        "samples with a − b > 1e-9 |b| / samples", "tolerances in the job"),
}  # fmt: skip
"""By the key that a column or a word goes by."""
