"""Prints, a JSON line each, what scipy makes of quantiles: kind, probability, shapes, quantile."""

import json

from scipy import stats

PROBABILITIES = [1e-9, 1e-6, 0.001, 0.005, 0.025, 0.05, 0.16, 0.4, 0.5, 0.7, 0.9, 0.95, 0.975, 0.9995, 1 - 1e-9]
DEGREES = [1, 1.5, 2, 3, 4, 7.3, 9, 16, 16.75, 50, 200, 999.5, 1999, 2001, 1e4, 1e6]


def say(kind, probability, shapes, quantile):
    line = {"kind": kind, "probability": probability, "shapes": shapes, "quantile": float(quantile)}
    print(json.dumps(line))


for p in PROBABILITIES:
    say("normal", p, [], stats.norm.ppf(p))
    for degrees in DEGREES:
        say("t", p, [degrees], stats.t.ppf(p, degrees))
for trials in list(range(1, 31)) + [59, 100, 1000]:
    for successes in sorted({0, 1, trials // 3, trials // 2, trials - 1, trials}):
        for p in [0.005, 0.025, 0.05, 0.5]:
            if successes > 0:
                a, b = successes, trials - successes + 1
                say("beta", p, [a, b], stats.beta.ppf(p, a, b))
