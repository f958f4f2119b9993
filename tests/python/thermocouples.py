"""Prints, for a grid over each letter type, a JSON line with what thermocouple-its90 makes of it:
type, temperature (degC), emf (mV), seebeck (uV/K), back (degC from the emf; null if refused)."""

import json

import thermocouple_its90 as its90

STEP = 0.73  # so that the grid hits neither whole degrees nor the joints of the functions

for letter in its90.letters():
    thermocouple = its90.get(letter)
    bottom, top = thermocouple.range
    for place in range(int((top - bottom) / STEP) + 1):
        temperature = bottom + place * STEP
        emf = thermocouple.emf(temperature)
        try:
            back = thermocouple.temperature(emf)
        except its90.RangeError:
            back = None
        line = {
            "type": letter,
            "temperature": temperature,
            "emf": emf,
            "seebeck": 1000.0 * thermocouple.seebeck(temperature),
            "back": back,
        }
        print(json.dumps(line))
