"""Prints, as one JSON line each, what GTC makes of GUM H.1, H.2 and H.3."""

import json
import math

from GTC import cos, dof, get_correlation, multiple_ureal, set_correlation, sin, type_a, uncertainty, ureal, value


def say(name, **numbers):
    print(json.dumps({"name": name, **numbers}))


standard = ureal(50_000_623.0, 25.0, 18)
difference = ureal(215.0, 5.8, 24)
random = ureal(0.0, 3.9, 5)
systematic = ureal(0.0, 6.7, 8)
expansion = ureal(11.5e-6, 2e-6 / math.sqrt(3))
bed = ureal(-0.1, 0.41)
expansions = ureal(0.0, 1e-6 / math.sqrt(3), 50)
temperatures = ureal(0.0, 0.05 / math.sqrt(3), 2)
gauge = standard + difference + random + systematic - standard * (expansions * bed + expansion * temperatures)
say("H.1", value=value(gauge), u=uncertainty(gauge), dof=dof(gauge))

voltage, current, phase = multiple_ureal([4.999, 19.661e-3, 1.04446], [3.2e-3, 9.5e-6, 7.5e-4], 4)
set_correlation(-0.36, voltage, current)
set_correlation(0.86, voltage, phase)
set_correlation(-0.65, current, phase)
resistance = voltage / current * cos(phase)
reactance = voltage / current * sin(phase)
impedance = voltage / current
for name, result in [("R", resistance), ("X", reactance), ("Z", impedance)]:
    say("H.2 " + name, value=value(result), u=uncertainty(result), dof=dof(result))
say(
    "H.2 r",
    rx=get_correlation(resistance, reactance),
    rz=get_correlation(resistance, impedance),
    xz=get_correlation(reactance, impedance),
)

readings = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
corrections = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
fit = type_a.line_fit([reading - 20 for reading in readings], corrections)
intercept, slope = fit.a_b
at_30 = intercept + slope * 10
say(
    "H.3",
    intercept=value(intercept),
    u_intercept=uncertainty(intercept),
    slope=value(slope),
    u_slope=uncertainty(slope),
    r=get_correlation(intercept, slope),
    at_30=value(at_30),
    u_at_30=uncertainty(at_30),
    dof=dof(at_30),
)
